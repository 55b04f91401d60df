"""The owner's own solar forecast, kept as power by quarter hour.

A forecast tells energies for hours or for whole days. Within each of its periods the
energy is laid out along the clear-sky curve; so one number for tomorrow is already a
curve. What had been told before a day began is remembered for that day, since only that
can be compared with how the day turned out.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final, TypedDict

from ..metering.quarter_hours import QUARTER_S
from .sky_history import QUARTERS_PER_DAY, quarter_of

_DAYS_AHEAD: Final = 4


@dataclass(frozen=True, slots=True)
class ForecastPeriod:
    """Energy that the sun is told to give between two Unix times."""

    start_s: float
    end_s: float
    energy_wh: float


class SolarForecastState(TypedDict):
    """What `SolarForecast` saves."""

    power_w: list[tuple[int, float]]
    told_w: list[tuple[int, float]]
    day: int | None


class SolarForecast:
    """Holds the newest forecast, and the one that was told before the day began."""

    def __init__(self) -> None:
        """Start without a forecast."""
        self.power_w: dict[int, float] = {}
        self._told_w: dict[int, float] = {}
        self._day: int | None = None

    def observe(
        self,
        at_s: float,
        periods: Iterable[ForecastPeriod],
        clear_w: Callable[[float], float],
    ) -> None:
        """Take a new forecast; `clear_w` gives the array's clear-sky power at a time."""
        now = quarter_of(at_s)
        for period in periods:
            if period.end_s <= period.start_s or period.energy_wh < 0.0:
                continue
            # What is over is of no use, and a forecast may begin at any date.
            first = max(quarter_of(period.start_s), now - QUARTERS_PER_DAY)
            last = quarter_of(period.end_s - 1.0)
            quarters = range(first, min(last, now + _DAYS_AHEAD * QUARTERS_PER_DAY) + 1)
            shape = {q: clear_w((q + 0.5) * QUARTER_S) for q in quarters}
            total_w = sum(shape.values())
            if total_w <= 0.0:
                continue
            scale = period.energy_wh * (3600.0 / QUARTER_S) / total_w
            self.power_w.update({q: w * scale for q, w in shape.items()})
        self._forget(now)
        self._told_w = {
            **self.power_w,
            **{
                q: w
                for q, w in self._told_w.items()
                if q // QUARTERS_PER_DAY == self._day
            },
        }

    def told_before_w(self, quarter: int) -> float | None:
        """Return what was told for a quarter hour before its day began, or as near to it.

        Called with quarter hours in order of time.
        """
        day = quarter // QUARTERS_PER_DAY
        if day != self._day:
            self._day = day
            self._told_w = dict(self.power_w)
            self._forget(quarter)
        return self._told_w.get(quarter)

    def _forget(self, quarter: int) -> None:
        oldest = quarter // QUARTERS_PER_DAY * QUARTERS_PER_DAY
        self.power_w = {q: w for q, w in self.power_w.items() if q >= oldest}

    def snapshot(self) -> SolarForecastState:
        """Return the state, JSON-able."""
        return {
            "power_w": [(q, round(w, 1)) for q, w in self.power_w.items()],
            "told_w": [(q, round(w, 1)) for q, w in self._told_w.items()],
            "day": self._day,
        }

    def restore(self, state: SolarForecastState) -> None:
        """Take a state that `snapshot` gave."""
        self.power_w = dict(state["power_w"])
        self._told_w = dict(state["told_w"])
        self._day = state["day"]
