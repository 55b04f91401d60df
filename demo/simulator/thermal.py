"""Heat in one lump: how warm something is after a while, and how long it takes.

The lump obeys `C dT/dt = P - UA (T - Ta)`, whose solution is an exponential; every
kettle, tank, bath and oven cavity here is made of it. Temperatures are degrees Celsius,
powers W, `capacity_j_k` J/K, `ua_w_k` W/K, times seconds.
"""

from dataclasses import dataclass, replace
import math
from typing import Final

WATER_J_KG_K: Final = 4186.0
"""Heat capacity of water between 15 and 100 degrees, J/(kg K). The standard's own
enthalpies (IAPWS R7-97) give 4181 to 4189 over that range."""

BATH_J_LITRE_K: Final = 0.99 * 4180.0
"""A litre of water between 20 and 60 degrees: 0.99 kg of 4180 J/(kg K)."""

VAPORISATION_J_KG: Final = 2.2564e6
"""Heat that boils off a kilogram at 100 degrees (IAPWS R7-97)."""


@dataclass(frozen=True, slots=True)
class Lump:
    """Something warm: one temperature, one heat capacity, one path for loss."""

    celsius: float
    capacity_j_k: float
    ua_w_k: float
    ambient_c: float

    def after(self, seconds: float, power_w: float) -> Lump:
        """Return the lump after `seconds` at a constant `power_w`."""
        if self.ua_w_k <= 0:
            warmer = self.celsius + power_w * seconds / self.capacity_j_k
        else:
            final = self.ambient_c + power_w / self.ua_w_k
            decay = math.exp(-self.ua_w_k * seconds / self.capacity_j_k)
            warmer = final + (self.celsius - final) * decay
        return replace(self, celsius=warmer)

    def seconds_to(self, target_c: float, power_w: float) -> float:
        """Return how long a constant `power_w` takes to bring it to `target_c`.

        Infinity where that power never gets there; zero where it is there already
        (heating beyond it, or cooling below it).
        """
        if self.ua_w_k <= 0:
            if power_w <= 0:
                return 0.0 if target_c == self.celsius else math.inf
            return max(0.0, (target_c - self.celsius) * self.capacity_j_k / power_w)
        final = self.ambient_c + power_w / self.ua_w_k
        start_gap, end_gap = final - self.celsius, final - target_c
        if start_gap == end_gap or start_gap * (target_c - self.celsius) <= 0:
            return 0.0
        if start_gap * end_gap <= 0:
            return math.inf
        return self.capacity_j_k / self.ua_w_k * math.log(start_gap / end_gap)

    def holding_power_w(self) -> float:
        """Return the power that keeps it as warm as it is."""
        return self.ua_w_k * (self.celsius - self.ambient_c)
