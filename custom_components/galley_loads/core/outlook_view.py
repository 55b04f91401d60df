"""What is known at one moment, immutable: the ground on which advice is given."""

from collections.abc import Mapping
from dataclasses import dataclass

from .array_yield import sky_cell
from .bank_meter import PointEnergy
from .boat import Boat
from .charge_state import ChargeState
from .clear_sky import haurwitz_w_m2
from .demand_history import PastHour
from .dishes import CookbookPage
from .habits import Use
from .inverter import Conversion
from .load import LoadSample
from .photovoltaic import STANDARD_IRRADIANCE_W_M2
from .sky_history import SkyDay
from .sky_outlook import Memory
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
    voltage_v: float
    conversion: Conversion
    array_w: float
    yield_table: tuple[float, ...]
    sky_days: tuple[SkyDay, ...]
    memory: Memory
    forecast_w: Mapping[int, float]
    background_w: tuple[float, ...]
    past_hours: Mapping[int, PastHour]
    uses: tuple[Use, ...]
    cookbook: CookbookPage

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
