"""The hours ahead as quarter-hour steps."""

from dataclasses import dataclass
from math import ceil
from typing import Final

from ..metering.quarter_hours import QUARTER_S

STEP_S: Final = QUARTER_S
STEP_H: Final = STEP_S / 3600.0
STEPS_PER_DAY: Final = 96


@dataclass(frozen=True, slots=True)
class Grid:
    """Quarter-hour steps from `at_s` on; step i lasts from `time_s(i)` to `time_s(i + 1)`."""

    at_s: float
    steps: int

    def time_s(self, index: int) -> float:
        """Return the start of a step."""
        return self.at_s + index * STEP_S

    def index(self, at_s: float) -> int:
        """Return the first step that starts at or after a moment."""
        return max(ceil((at_s - self.at_s) / STEP_S - 1e-6), 0)


def spread_over_steps(
    grid: Grid, begin_s: float, length_s: float
) -> list[tuple[int, float]]:
    """Return the steps that a span touches, each with the share of the step it fills."""
    place = (begin_s - grid.at_s) / STEP_S
    last = place + length_s / STEP_S
    parts: list[tuple[int, float]] = []
    i = max(int(place), 0)
    while i < last and i < grid.steps:
        share = min(last, i + 1) - max(place, i)
        if share > 0.0:
            parts.append((i, share))
        i += 1
    return parts
