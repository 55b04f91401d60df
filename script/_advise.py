"""Says whether to cook a dish now, to wait, or to hold off, by a history up to a time."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from _command import (
    Arguments,
    InputError,
    Progress,
    check_writable,
    read_boat,
    reading,
    run,
    said,
    tell,
)
from _core import core, language


def time_given(text: str) -> float:
    """Return the Unix time of an ISO text; without an offset it is UTC."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"--at: {text!r} is not an ISO time such as 2026-05-12T16:00:00+00:00"
        ) from None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    history = core("replay.history_file")
    if not history.FIRST_YEAR <= moment.year <= history.LAST_YEAR:
        raise InputError(
            f"--at: {text!r} is not of a year from {history.FIRST_YEAR} to {history.LAST_YEAR}"
        )
    return moment.timestamp()


def readings(path: Path, boat: Any, progress: Progress) -> Iterator[Any]:
    """Yield the readings of the boat's sensors and of its forecast's."""
    with reading(path):
        wanted = {
            *core("metering.source").entity_ids_of(boat),
            *core("outlook.forecast_sensors").forecast_sensor_ids(boat),
        }
        yield from core("replay.history_file").read_history(
            path, wanted, progress.callback
        )


def main() -> None:
    """Read the arguments, ask, print the answer and write it."""
    arguments = Arguments(prog="script/advise", description=__doc__)
    arguments.add_argument("boat", type=Path, help="the boat file (YAML)")
    arguments.add_argument(
        "history",
        type=Path,
        help="its history (.csv or .csv.gz: entity_id,state,last_changed)",
    )
    arguments.add_argument(
        "--at", required=True, metavar="TIME", help="when the question is asked (ISO)"
    )
    arguments.add_argument(
        "--dish", required=True, metavar="NAME", help="a dish of the boat file"
    )
    arguments.add_argument(
        "--instead-of",
        metavar="MEAL",
        help="the usual meal whose place the dish takes, such as dinner",
    )
    arguments.add_argument(
        "--patience",
        choices=("low", "middle", "high"),
        default="middle",
        help="how long the crew likes to wait: low for little, high to spare the bank",
    )
    arguments.add_argument(
        "--json", type=Path, metavar="OUT", help="also write the answer as JSON"
    )
    given = arguments.parse_args()
    check_writable(given.json, given.boat, given.history)
    at_s = time_given(given.at)
    boat = read_boat(given.boat)
    advice = core("advice")
    try:
        request = advice.request_dish(boat, given.dish)
    except advice.UnknownDish as error:
        raise InputError(f"--{said(error)}") from None
    request = replace(
        request,
        instead_of=given.instead_of,
        patience=core("advice.patience").Patience(given.patience),
    )
    progress = Progress("advise")
    try:
        answer = core("replay.ask_history").ask_history(
            boat, readings(given.history, boat, progress), at_s, request
        )
    finally:
        progress.clear()
    reasons = language("speech").english(boat.time_zone).say_all(answer.reasons)
    tell(
        language("advice_text").advice_text(answer, boat.time_zone),
        given.json,
        advice.advice_to_mapping(answer, reasons),
    )


run("advise", main)
