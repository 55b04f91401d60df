"""Whether sun or bank go another way than the last outlook expected.

An outlook stands until the next quarter hour unless it is plainly overtaken: the sun has
been outside its range for ten minutes, or the charge has left its range by more than the
gauge's own grain.
"""

from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from .answer import ForecastStep

SUN_AWAY_S: Final = 600.0
LEAST_SUN_W: Final = 30.0
SUN_SHARE: Final = 0.08
"""By how much of the array's power the sun may leave its range: clouds' edges flicker."""

SOC_GRAIN: Final = 1.5
_SMOOTHING_S: Final = 180.0
_LONGEST_STEP_S: Final = 120.0


class Departure:
    """Compares the present with one outlook's course."""

    def __init__(self, course: Sequence[ForecastStep], array_w: float) -> None:
        """Expect this course (by quarter hours, in order of time)."""
        self._course = course
        self._margin_w = max(LEAST_SUN_W, SUN_SHARE * array_w)
        self._sun_w: float | None = None
        self._last_s: float | None = None
        self._away_since_s: float | None = None

    def observe(self, at_s: float, solar_w: float | None, soc: float | None) -> bool:
        """Take a moment; return whether the outlook is overtaken. Times never go back."""
        place = bisect_right(self._course, at_s, key=lambda step: step.at_s) - 1
        if place < 0:
            return False
        step = self._course[place]
        return self._sun_departs(at_s, solar_w, step) or (
            soc is not None
            and not step.soc_p10 - SOC_GRAIN <= soc <= step.soc_p90 + SOC_GRAIN
        )

    def _sun_departs(
        self, at_s: float, solar_w: float | None, step: ForecastStep
    ) -> bool:
        if solar_w is None:
            self._sun_w = self._last_s = self._away_since_s = None
            return False
        if self._sun_w is None or self._last_s is None:
            self._sun_w = solar_w
        else:
            seconds = min(at_s - self._last_s, _LONGEST_STEP_S)
            self._sun_w += (solar_w - self._sun_w) * min(seconds / _SMOOTHING_S, 1.0)
        self._last_s = at_s
        low_w = step.solar_w_p10 - self._margin_w
        high_w = step.solar_w_p90 + self._margin_w
        if low_w <= self._sun_w <= high_w:
            self._away_since_s = None
            return False
        if self._away_since_s is None:
            self._away_since_s = at_s
        return at_s - self._away_since_s >= SUN_AWAY_S
