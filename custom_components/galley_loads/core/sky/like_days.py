"""Past days that were like today: how much each of several courses should be followed.

After hours of grey it is grey days that say what comes next. A course is followed the
more, the nearer its last hours and its last hour were to today's; none is left out
altogether, since every day is new in some way. The count of followers is then dealt to
the courses in order, so that the same question has the same answer.
"""

from collections.abc import Sequence
from math import exp
from typing import Final

_DAY_WIDTH: Final = 0.12
_HOUR_WIDTH: Final = 0.25
_LEAST_WEIGHT: Final = 0.05


def likeness(day_gap: float | None, hour_gap: float | None) -> float:
    """Return the weight of a course whose clear-sky index differs so much from today's.

    Args:
        day_gap: over the last hours of daylight, None where nothing was seen.
        hour_gap: over the last hour.
    """
    apart = 0.0
    if day_gap is not None:
        apart += (day_gap / _DAY_WIDTH) ** 2
    if hour_gap is not None:
        apart += (hour_gap / _HOUR_WIDTH) ** 2
    return _LEAST_WEIGHT + exp(-apart / 2.0)


def dealt(weights: Sequence[float], count: int) -> list[int]:
    """Return `count` places among weights (at least one), in proportion and in order."""
    step = sum(weights) / count
    places: list[int] = []
    reached, want = 0.0, step / 2.0
    for place, weight in enumerate(weights):
        reached += weight
        while want < reached and len(places) < count:
            places.append(place)
            want += step
    while len(places) < count:
        places.append(len(weights) - 1)
    return places
