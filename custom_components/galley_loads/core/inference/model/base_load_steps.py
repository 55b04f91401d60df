"""By how much the base load steps on this boat: its fridge, its pumps, its lamps.

A fridge steps by nearly the same power dozens of times a day. Once that is known, such a
step proves little: without it, anything aboard that draws little now and then would
explain the fridge better than the fridge does. Steps that were settled are counted by
size, old ones fading; a share of the belief always stays with sizes never seen.
"""

from math import exp, log
from typing import Final, TypedDict

BIN_W: Final = 4.0
"""Judgement, W: width of a bin of step sizes."""
LEAST_W: Final = 10.0
"""Judgement, W: smaller steps are noise."""
MOST_W: Final = 400.0
"""Judgement, W: larger steps are not the base load's."""
MIDDLE_W: Final = 60.0
"""Judgement, W: mean size of the steps of an unknown boat (an exponential law)."""
DAY_S: Final = 86400.0
"""Definition: the seconds of a day."""
MEMORY_DAYS: Final = 5.0
"""Judgement, days: time after which what was seen fades."""
PRIOR_PER_DAY: Final = 80.0
"""Judgement, steps a day of an unknown boat."""
PRIOR_DAYS: Final = 0.5
"""Judgement, days: how much of the boat's own days that is worth."""
UNSEEN: Final = 0.3
"""Judgement, a chance: share of the belief that stays with steps of any size."""
UNSEEN_STEPS: Final = 15.0
"""Judgement, steps: so many seen weigh as much as sizes never seen."""
DEAREST: Final = 10.5
"""Judgement, a cost: a step of any size costs no more as a step of the base load."""

KNOWN_STEPS: Final = 4.0
"""Judgement, steps: a size seen so often is one of the boat's own."""


class BaseLoadStepsState(TypedDict):
    """What `BaseLoadSteps` saves."""

    counts: list[tuple[int, float]]
    days: float


class BaseLoadSteps:
    """Counts the settled steps of the base load by size."""

    def __init__(self) -> None:
        """Know nothing of the boat yet."""
        self._counts: dict[int, float] = {}
        self._total = 0.0
        self._days = 0.0

    def add(self, step_w: float) -> None:
        """Take a settled step up or down."""
        size = abs(step_w)
        if LEAST_W <= size <= MOST_W:
            number = int(size / BIN_W)
            self._counts[number] = self._counts.get(number, 0.0) + 1.0
            self._total += 1.0

    def passed(self, seconds: float) -> None:
        """Take in that time passed; old steps fade."""
        self._days += seconds / DAY_S
        if self._days > MEMORY_DAYS:
            share = MEMORY_DAYS / self._days
            self._days = MEMORY_DAYS
            self._counts = {
                number: count * share
                for number, count in self._counts.items()
                if count * share > 0.02
            }
            self._total = sum(self._counts.values())

    def knows(self, size_w: float) -> bool:
        """Return whether the base load has often stepped by that much before, W."""
        number = int(abs(size_w) / BIN_W)
        near = sum(self._counts.get(number + one, 0.0) for one in (-1, 0, 1))
        return near >= KNOWN_STEPS

    def cost(self, size_w: float, period_s: float) -> float:
        """Return the cost of a step of that size within a period of the meter."""
        per_day = (PRIOR_PER_DAY * PRIOR_DAYS + self._total) / (PRIOR_DAYS + self._days)
        any_size = max(exp(-size_w / MIDDLE_W) / (2.0 * MIDDLE_W), exp(-DEAREST))
        known = (1.0 - UNSEEN) * self._total / (UNSEEN_STEPS + self._total)
        density = (1.0 - known) * any_size
        if known > 0.0:
            number = int(size_w / BIN_W)
            counts = self._counts
            near = counts.get(number, 0.0) + 0.5 * (
                counts.get(number - 1, 0.0) + counts.get(number + 1, 0.0)
            )
            # Up and down are alike.
            density += known * near / (4.0 * BIN_W * self._total)
        return -log(density * per_day * period_s / DAY_S)

    def snapshot(self) -> BaseLoadStepsState:
        """Return the whole state, JSON-able."""
        return {
            "counts": list(self._counts.items()),
            "days": self._days,
        }

    def restore(self, state: BaseLoadStepsState) -> None:
        """Take over what `snapshot` gave."""
        self._counts = dict(state["counts"])
        self._total = sum(self._counts.values())
        self._days = state["days"]
