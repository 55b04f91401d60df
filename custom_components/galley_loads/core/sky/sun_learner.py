"""What the sun has shown: the array's yield, the sky's ways, and how honest the range is."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final, TypedDict

from ..boat.boat import Boat
from ..metering.quarter_hours import QUARTER_S, Quarter
from ..stateful import Row, from_row, row
from .array_yield import ArrayYield, ArrayYieldState, sky_cell
from .quantiles import quantile
from .sky_ensemble import PRIOR_MEMORY, Memory, memory_of
from .sky_history import (
    LEAST_ELEVATION_DEG,
    QUARTERS_PER_DAY,
    UNKNOWN,
    SkyHistory,
    SkyHistoryState,
    clear_sky_index_of,
    quarter_of,
)
from .sky_spread import (
    ISSUE_EVERY_QUARTERS,
    LOOK_QUARTERS,
    SpreadKeeper,
    SpreadKeeperState,
)
from .sky_view import SkyView, standard_power_w
from .solar_forecast import ForecastPeriod, SolarForecast, SolarForecastState
from .sum_spread import SumSpreadKeeper, SumSpreadState, span_steps, weighted_mean
from .sun import sun_position

UNSTATED_ARRAY_W: Final = 1000.0
"""Yardstick for an array of unknown nameplate; its yield is learnt against it."""

_UNSEEN_CLEAR_SKY_INDEX: Final = 0.7
_MOST_CLEAR_SKY_INDEX: Final = 1.1
_RECENT_QUARTERS: Final = 4


class SunLearnerState(TypedDict):
    """What `SunLearner` saves."""

    position: tuple[float, float]
    yields: ArrayYieldState
    sky: SkyHistoryState
    memory: Row
    spread: SpreadKeeperState
    sums: SumSpreadState
    forecast: SolarForecastState
    day: int | None


class SunLearner:
    """Learns from quarter hours; hands out a `SkyView`."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen, at the boat's home."""
        self._sees_sun = bool(boat.sensors.solar_power)
        self._has_sun = boat.solar is not None or self._sees_sun
        stated = boat.solar
        self._array_w = UNSTATED_ARRAY_W if stated is None else stated.array_power_w
        self._position = (boat.latitude, boat.longitude)
        self._yield = ArrayYield(0.0 if stated is None else None)
        self._sky = SkyHistory()
        self._memory = PRIOR_MEMORY
        self._spread = SpreadKeeper()
        self._sums = SumSpreadKeeper()
        self._forecast = SolarForecast()
        self._day: int | None = None

    def observe_position(self, latitude: float, longitude: float) -> None:
        """Take where the boat lies now (decimal degrees, east positive)."""
        self._position = (latitude, longitude)

    def observe_forecast(self, at_s: float, periods: Iterable[ForecastPeriod]) -> None:
        """Take the owner's solar forecast as it stands at `at_s`."""
        self._forecast.observe(at_s, periods, self.view().clear_power_w)

    def observe(self, quarter: Quarter) -> float:
        """Take a quarter hour; return what the sun offered in it, W.

        That is what was taken, or what the sky would have given where a full bank turned
        some of it away.
        """
        number = quarter_of(quarter.start_s)
        self._turn_day(number // QUARTERS_PER_DAY)
        sun = sun_position(*self._position, quarter.start_s + QUARTER_S / 2)
        standard_w = standard_power_w(self._array_w, sun)
        high = sun.elevation_deg >= LEAST_ELEVATION_DEG
        cell = sky_cell(sun) if high else UNKNOWN
        taken_w = max(quarter.solar_w or 0.0, 0.0)
        ratio: float | None = None
        if high and self._sees_sun and quarter.solar_w is not None:
            ratio = taken_w / standard_w
        told_w = self._forecast.told_before_w(number)
        self._sky.observe(
            number,
            cell,
            ratio,
            quarter.turned_away,
            told_w / standard_w if told_w is not None and high else None,
        )
        if ratio is not None:
            self._learn_yield(number, cell, ratio, quarter.turned_away)
        self._put_forecast_aside(number)
        if not quarter.turned_away or cell == UNKNOWN:
            return taken_w
        usual_w = standard_w * self._yield.table[cell]
        return max(taken_w, usual_w * self._recent_clear_sky_index())

    def _learn_yield(
        self, quarter: int, cell: int, ratio: float, turned_away: bool
    ) -> None:
        usual = self._yield.table[cell]
        # A quarter hour of refused sun still counts where it beats what is known.
        if not turned_away or ratio > usual:
            self._yield.observe(cell, quarter // QUARTERS_PER_DAY, ratio)
        if not turned_away:
            self._spread.observe(quarter, ratio / usual)
            self._sums.observe(quarter, ratio / usual)

    def _put_forecast_aside(self, quarter: int) -> None:
        """Every few hours, keep what is expected of the day ahead to be held against it."""
        if (quarter + 1) % ISSUE_EVERY_QUARTERS or not self._sees_sun:
            return
        view = self.view()
        at_s = (quarter + 1) * QUARTER_S
        steps = view.steps_ahead(at_s, LOOK_QUARTERS)
        members = view.clear_sky_index_ahead(at_s, steps)
        columns = [sorted(column) for column in zip(*members, strict=True)]
        self._spread.issue(
            quarter + 1,
            [quantile(column, 0.1) for column in columns],
            [quantile(column, 0.9) for column in columns],
        )
        weights = [step.clear_w for step in steps]
        spans = span_steps([step.nights for step in steps], weights)
        for span, places in enumerate(spans):
            if not places:
                continue
            means = sorted(weighted_mean(row, weights, places) for row in members)
            self._sums.issue(
                span,
                {steps[i].quarter: weights[i] for i in places},
                quantile(means, 0.1),
                quantile(means, 0.9),
            )

    def _turn_day(self, day: int) -> None:
        """Once a day, work out anew what takes a moment."""
        if day == self._day:
            return
        self._day = day
        table = self._yield.refresh()
        if self._sky.has_today:
            self._memory = memory_of(clear_sky_index_of(self._sky.all_days(), table))

    def _recent_clear_sky_index(self) -> float:
        """Return the clear-sky index last seen today, a middling one where none was."""
        table = self._yield.table
        today = self._sky.today_so_far()
        seen = [
            ratio * 0.001 / table[cell]
            for ratio, cell in zip(today.ratio, today.cell, strict=True)
            if ratio >= 0 and cell != UNKNOWN
        ][-_RECENT_QUARTERS:]
        if not seen:
            return _UNSEEN_CLEAR_SKY_INDEX
        return min(sum(seen) / len(seen), _MOST_CLEAR_SKY_INDEX)

    def view(self) -> SkyView:
        """Return what is known now, immutable and cheap to make."""
        return SkyView(
            self._has_sun,
            self._position,
            self._array_w,
            self._yield.table,
            self._sky.all_days(),
            self._memory,
            replace(self._spread.spread, sums=self._sums.spread),
            dict(self._forecast.power_w),
        )

    def snapshot(self) -> SunLearnerState:
        """Return the state, JSON-able."""
        return {
            "position": self._position,
            "yields": self._yield.snapshot(),
            "sky": self._sky.snapshot(),
            "memory": row(self._memory),
            "spread": self._spread.snapshot(),
            "sums": self._sums.snapshot(),
            "forecast": self._forecast.snapshot(),
            "day": self._day,
        }

    def restore(self, state: SunLearnerState) -> None:
        """Take a state that `snapshot` gave."""
        self._position = state["position"]
        self._yield.restore(state["yields"])
        self._sky.restore(state["sky"])
        self._memory = from_row(Memory, state["memory"])
        self._spread.restore(state["spread"])
        self._sums.restore(state["sums"])
        self._forecast.restore(state["forecast"])
        self._day = state["day"]
