"""What is known at one moment, immutable: the ground on which advice is given."""

from collections.abc import Mapping
from dataclasses import dataclass

from ..bank.bank_laws import usable_wh
from ..bank.bank_meter import LoadVoltage, PointEnergy
from ..bank.charge_state import ChargeState
from ..bank.inverter_losses import Conversion
from ..boat.boat import Boat
from ..meals.dish_cost import CookbookPage
from ..metering.load_sample import LoadSample
from ..sky.sky_view import SkyView
from .charging_habit import ChargingRun
from .demand_history import PastHour
from .habits import Use


@dataclass(frozen=True, slots=True)
class OutlookView:
    """Made by `Outlook.view`; safe to hand to another thread.

    `background_w` is the expected draw at the bank's side by hour of the week (168
    values), `ac_background_w` what the inverter's own meter shows when nobody cooks (W, None
    where that is not known), `charging_runs` the runs of engine or shore power, `past_hours` by hour since 1970.
    """

    boat: Boat
    sky: SkyView
    last: LoadSample | None
    first_s: float | None
    charge: ChargeState
    bank_temperature_c: float | None
    point_energy: PointEnergy
    load_voltage: LoadVoltage
    conversion: Conversion
    background_w: tuple[float, ...]
    ac_background_w: float | None
    charging_runs: tuple[ChargingRun, ...]
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
        return self.sky.has_sun

    @property
    def position(self) -> tuple[float, float]:
        """Latitude and longitude of where the boat lies now, decimal degrees."""
        return self.sky.position

    @property
    def array_w(self) -> float:
        """The array's nameplate power, or the yardstick that stands for it."""
        return self.sky.array_w

    @property
    def forecast_w(self) -> Mapping[int, float]:
        """The owner's solar forecast, W by quarter hour since 1970."""
        return self.sky.forecast_w

    def clear_power_w(self, at_s: float) -> float:
        """Return what the array gives at a time under a clear sky, 0 without an array."""
        return self.sky.clear_power_w(at_s)
