"""What the crew asks: a dish, or appliances and minutes, and within which time."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Final

from ..boat.boat import Boat, Dish
from ..outlook.habits import boat_time
from ..phrase import PhrasedError, names_or_none, phrase
from .patience import Patience

DEFAULT_WINDOW_HOURS: Final = 12.0
"""How long a dish without a time to be ready by can wait: until the same part of the day
has turned, not until tomorrow's."""

LONGEST_WINDOW_HOURS: Final = 24.0
_LATE_S: Final = 2 * 3600.0


class UnknownDish(PhrasedError):
    """The boat has no dish of that name; the phrase says which it has."""


@dataclass(frozen=True, slots=True)
class DishRequest:
    """One dish to advise on.

    `first_start_s` is the earliest start, None for now; `ready_by_s` overrides the dish's
    own time; `window_hours` is how long it can wait where nothing says when it must be
    ready. `instead_of` names the usual meal whose place the dish takes (a label such as
    "dinner"), so that the two are not both counted. `patience` is the crew's.
    """

    dish: Dish
    first_start_s: float | None = None
    ready_by_s: float | None = None
    window_hours: float = DEFAULT_WINDOW_HOURS
    instead_of: str | None = None
    patience: Patience = Patience.MIDDLE


def request_dish(boat: Boat, name: str) -> DishRequest:
    """Return the request for one of the boat's dishes.

    Raises:
        UnknownDish: there is none of that name.
    """
    for dish in boat.dishes:
        if dish.name == name:
            return DishRequest(dish)
    raise UnknownDish(
        phrase(
            "problem.unknown_dish",
            name=repr(name),
            dishes=names_or_none(dish.name for dish in boat.dishes),
        )
    )


@dataclass(frozen=True, slots=True)
class StartWindow:
    """The earliest and the latest start; `late` says that ready-by cannot be met."""

    first_s: float
    last_s: float
    late: bool = False


def start_window(
    request: DishRequest, boat: Boat, at_s: float, minutes: float
) -> StartWindow:
    """Return when the dish may start."""
    first_s = max(at_s, request.first_start_s or at_s)
    length_s = minutes * 60.0
    ready_s = request.ready_by_s
    if ready_s is None and request.dish.ready_by is not None:
        ready_s = next_time_s(boat, first_s - _LATE_S, request.dish.ready_by)
        if first_s > ready_s - length_s + _LATE_S:
            ready_s = next_time_s(boat, ready_s + 1.0, request.dish.ready_by)
    if ready_s is None:
        hours = min(max(request.window_hours, 0.0), LONGEST_WINDOW_HOURS)
        return StartWindow(first_s, first_s + hours * 3600.0)
    last_s = ready_s - length_s
    if last_s < first_s:
        return StartWindow(first_s, first_s, late=True)
    return StartWindow(first_s, min(last_s, first_s + LONGEST_WINDOW_HOURS * 3600.0))


def next_time_s(boat: Boat, after_s: float, clock: time) -> float:
    """Return the next moment at which the boat's clock shows a time."""
    local = boat_time(after_s, boat.time_zone)
    for days in (0, 1, 2):
        date = local.date() + timedelta(days=days)
        moment = datetime.combine(date, clock, boat.time_zone).timestamp()
        if moment >= after_s:
            return moment
    raise AssertionError("a clock shows every time within two days")
