"""What is known of the sun at one moment, immutable."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..metering.quarter_hours import QUARTER_S
from .array_yield import sky_cell
from .clear_sky import haurwitz_w_m2
from .photovoltaic import STANDARD_IRRADIANCE_W_M2
from .sky_ensemble import Memory, SkyStep, clear_sky_index_members
from .sky_history import (
    DAYS_KEPT,
    ClearSkyIndex,
    SkyDay,
    clear_sky_index_of,
    quarter_of,
)
from .sky_spread import Spread
from .sun import SunPosition, sun_position


def standard_power_w(array_w: float, sun: SunPosition) -> float:
    """Return nameplate power times clear-sky irradiance over standard irradiance."""
    return array_w * haurwitz_w_m2(sun.zenith_deg) / STANDARD_IRRADIANCE_W_M2


@dataclass(frozen=True, slots=True)
class SkyView:
    """The array, the sky over it, and what past days make of the days ahead.

    `position` is latitude and longitude in decimal degrees, `yield_table` the array's
    yield by sky cell, `forecast_w` the owner's forecast by quarter hour since 1970.
    """

    has_sun: bool
    position: tuple[float, float]
    array_w: float
    yield_table: tuple[float, ...]
    days: tuple[SkyDay, ...]
    memory: Memory
    spread: Spread
    forecast_w: Mapping[int, float]

    def clear_power_w(self, at_s: float) -> float:
        """Return what the array gives at a time under a clear sky, 0 without an array."""
        if not self.has_sun:
            return 0.0
        sun = sun_position(*self.position, at_s)
        if sun.elevation_deg <= 0.0:
            return 0.0
        return standard_power_w(self.array_w, sun) * self.yield_table[sky_cell(sun)]

    def steps_ahead(self, at_s: float, count: int) -> list[SkyStep]:
        """Return the quarter hours from `at_s` on with their clear-sky power."""
        now_quarter = quarter_of(at_s)
        nights, dark = 0, False
        steps: list[SkyStep] = []
        for i in range(count):
            clear_w = self.clear_power_w(at_s + (i + 0.5) * QUARTER_S)
            if clear_w <= 0.0:
                dark = True
            elif dark:
                dark, nights = False, nights + 1
            steps.append(SkyStep(now_quarter + i, clear_w, nights))
        return steps

    def clear_sky_index_until(
        self, at_s: float, last_days: int = DAYS_KEPT + 1
    ) -> ClearSkyIndex:
        """Return the clear-sky index of the last days up to the quarter hour in progress."""
        days = self.days[-last_days:]
        return clear_sky_index_of(days, self.yield_table, quarter_of(at_s))

    def clear_sky_index_ahead(
        self, at_s: float, steps: Sequence[SkyStep]
    ) -> list[list[float]]:
        """Return possible futures of the sky: per member the clear-sky index at each step."""
        return clear_sky_index_members(
            self.clear_sky_index_until(at_s),
            self.memory,
            quarter_of(at_s),
            steps,
            self.forecast_w,
            self.spread,
        )
