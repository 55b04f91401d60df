"""What is known at one moment, immutable: the ground on which advice is given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .array_yield import sky_cell
from .bank import usable_wh
from .bank_meter import LoadVoltage, PointEnergy
from .boat import Boat
from .charge_state import ChargeState
from .clear_sky import haurwitz_w_m2
from .demand_history import PastHour
from .dishes import CookbookPage
from .habits import Use
from .inverter import Conversion
from .load import LoadSample
from .photovoltaic import STANDARD_IRRADIANCE_W_M2
from .quarters import QUARTER_S
from .sky_history import SkyDay, clearness_of, quarter_of
from .sky_outlook import Memory, Step, clearness_members
from .sky_spread import Spread
from .sun import sun_position


@dataclass(frozen=True, slots=True)
class OutlookView:
    """Made by `Outlook.view`; safe to hand to another thread.

    `background_w` is the expected draw at the bank's side by hour of the week (168
    values), `past_hours` by hour since 1970, `forecast_w` by quarter hour since 1970.
    """

    boat: Boat
    position: tuple[float, float]
    last: LoadSample | None
    first_s: float | None
    charge: ChargeState
    bank_temperature_c: float | None
    point_energy: PointEnergy
    load_voltage: LoadVoltage
    conversion: Conversion
    array_w: float
    yield_table: tuple[float, ...]
    sky_days: tuple[SkyDay, ...]
    memory: Memory
    spread: Spread
    forecast_w: Mapping[int, float]
    background_w: tuple[float, ...]
    past_hours: Mapping[int, PastHour]
    uses: tuple[Use, ...]
    cookbook: CookbookPage

    @property
    def mean_background_w(self) -> float:
        """The usual draw at the bank's side, over the week."""
        return sum(self.background_w) / len(self.background_w)

    @property
    def voltage_v(self) -> float:
        """The bank's usual voltage while it carries the background alone."""
        return self.load_voltage.under_w(self.mean_background_w)

    def cooking_voltage_v(self, dish_dc_w: float) -> float:
        """Return the bank's voltage while it carries a dish over the background."""
        return self.load_voltage.under_w(self.mean_background_w + dish_dc_w)

    @property
    def above_reserve_wh(self) -> float | None:
        """The energy left above the reserve as the galley gets it, None where unknown."""
        if self.charge.soc is None:
            return None
        point_wh = self.point_energy.discharge_wh
        at_bank_wh = usable_wh(self.boat.bank, self.charge.soc, point_wh)
        return at_bank_wh * (self.conversion.efficiency or self.boat.conversion)

    @property
    def has_sun(self) -> bool:
        """Whether the boat has an array, stated or metered."""
        return self.boat.solar is not None or bool(self.boat.sensors.solar_power)

    def clear_power_w(self, at_s: float) -> float:
        """Return what the array gives at a time under a clear sky, 0 without an array."""
        if not self.has_sun:
            return 0.0
        sun = sun_position(*self.position, at_s)
        if sun.elevation_deg <= 0.0:
            return 0.0
        standard_w = (
            self.array_w * haurwitz_w_m2(sun.zenith_deg) / STANDARD_IRRADIANCE_W_M2
        )
        return standard_w * self.yield_table[sky_cell(sun)]

    def steps_ahead(self, at_s: float, count: int) -> list[Step]:
        """Return the quarter hours from `at_s` on with their clear-sky power."""
        now_quarter = quarter_of(at_s)
        nights, dark = 0, False
        steps: list[Step] = []
        for i in range(count):
            clear_w = self.clear_power_w(at_s + (i + 0.5) * QUARTER_S)
            if clear_w <= 0.0:
                dark = True
            elif dark:
                dark, nights = False, nights + 1
            steps.append(Step(now_quarter + i, clear_w, nights))
        return steps

    def clearness_ahead(self, at_s: float, steps: Sequence[Step]) -> list[list[float]]:
        """Return possible futures of the sky: per member the clearness at each step."""
        now_quarter = quarter_of(at_s)
        past = clearness_of(self.sky_days, self.yield_table, now_quarter)
        return clearness_members(
            past, self.memory, now_quarter, steps, self.forecast_w, self.spread
        )
