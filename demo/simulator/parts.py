"""What supplies a boat: inverter, bank and array as they truly are."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SimInverter:
    """An inverter whose losses are `idle_w`, a share of the load, and its square."""

    limit_w: float
    idle_w: float
    loss_share: float
    loss_square: float

    def dc_w(self, ac_w: float) -> float:
        """Return what it takes from the bank to give `ac_w`."""
        return (
            self.idle_w + ac_w * (1 + self.loss_share) + self.loss_square * ac_w * ac_w
        )

    @property
    def stated_efficiency(self) -> float:
        """Efficiency at two fifths of its limit, idle draw apart, as a leaflet rounds it."""
        ac_w = 0.4 * self.limit_w
        return round(ac_w / (self.dc_w(ac_w) - self.idle_w), 2)


@dataclass(frozen=True, slots=True)
class SimBank:
    """A lithium bank of cells in series; `ohm` is its whole resistance, cables included.

    Below `engine_soc` the crew lets the engine charge, by day.
    """

    capacity_ah: float
    cells: int
    ohm: float
    reserve_soc: float
    start_soc: float
    engine_soc: float


@dataclass(frozen=True, slots=True)
class SimArray:
    """Panels flat on deck: peak power, losses, and a mast that shades a low sun."""

    array_w: float
    yield_share: float
    shade_below_deg: float
    shade_share: float
