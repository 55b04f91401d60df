"""Replays a history of a boat and prints what was cooked and what it took."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
import csv
from pathlib import Path
from typing import Any

from _command import (
    Arguments,
    Progress,
    check_writable,
    read_boat,
    read_history,
    reading,
    run,
    tell,
)
from _core import core, language


def main() -> None:
    """Read the arguments, replay, print the tables and write the report."""
    arguments = Arguments(prog="script/replay", description=__doc__)
    arguments.add_argument("boat", type=Path, help="the boat file (YAML)")
    arguments.add_argument(
        "history",
        type=Path,
        help="its history (.csv or .csv.gz: entity_id,state,last_changed)",
    )
    arguments.add_argument(
        "--json", type=Path, metavar="OUT", help="also write the report as JSON"
    )
    arguments.add_argument(
        "--live",
        type=Path,
        metavar="OUT",
        help="also write what would have been shown, without hindsight, as CSV",
    )
    arguments.add_argument(
        "--news",
        type=Path,
        metavar="OUT",
        help="also write what automations would have heard, and when, as CSV",
    )
    given = arguments.parse_args()
    inputs = (given.boat, given.history)
    check_writable(given.json, *inputs)
    check_writable(given.live, *inputs, option="--live")
    check_writable(given.news, *inputs, option="--news")
    boat = read_boat(given.boat)
    progress = Progress("replay")
    with ExitStack() as files:
        crew = _crew(boat, given.live, given.news, files)
        try:
            report = core("replay.replay").replay(
                boat, read_history(given.history, boat, progress.callback), crew=crew
            )
        finally:
            progress.clear()
    tell(
        language("report_tables").report_text(report),
        given.json,
        language("report_tables").report_in_json(report),
    )


def _crew(boat: Any, live: Path | None, news: Path | None, files: ExitStack) -> Any:
    """Return who watches the history and writes it down; None if nobody is asked to."""
    if live is None and news is None:
        return None
    rows = core("replay.shown_rows")
    shown = rows.ShownTable(files.enter_context(_table(live, rows.LIVE_COLUMNS)))
    heard = rows.HeardTable(boat, files.enter_context(_table(news, rows.NEWS_COLUMNS)))

    def look(at_s: float, view: Any) -> None:
        shown.look(at_s, view)
        heard.look(at_s, view)

    return core("replay.replay").Crew(look, heard.settle)


@contextmanager
def _table(
    path: Path | None, columns: tuple[str, ...]
) -> Iterator[Callable[[Any], object]]:
    """Give what writes one row after another into a table; nowhere without a path."""
    if path is None:
        yield lambda _: None
        return
    with reading(path):
        file = path.open("w", encoding="utf-8", newline="")
    with file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(columns)
        yield lambda row: table.writerow(row.cells())


run("replay", main)
