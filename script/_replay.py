"""Replays a history of a boat and prints what was cooked and what it took."""

from pathlib import Path

from _command import (
    Arguments,
    Progress,
    check_writable,
    read_boat,
    read_history,
    run,
    tell,
)
from _core import core


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
    given = arguments.parse_args()
    check_writable(given.json, given.boat, given.history)
    boat = read_boat(given.boat)
    progress = Progress("replay")
    try:
        report = core("replay.replay").replay(
            boat, read_history(given.history, boat, progress.callback)
        )
    finally:
        progress.clear()
    tell(
        core("replay.report_tables").report_text(report),
        given.json,
        core("replay.replay").report_to_json(report),
    )


run("replay", main)
