"""Supply: array, bank and engine, ten seconds at a time, under a load known exactly."""

from array import array
from bisect import bisect_right
from dataclasses import dataclass
import math
import random
from typing import Final

from .boat import SimBoat
from .clock import BoatClock
from .parts import SimBank
from .steps import Steps
from .sun import clear_sky_w_m2, elevation_azimuth
from .timeline import GRID_S

OCV_SOC: Final = (0.0, 0.33, 1.17, 2.67, 5.34, 8.85, 29.72, 98.33, 99.50, 100.0)
OCV_V: Final = (
    2.0102,
    2.4177,
    2.7405,
    2.9299,
    3.0872,
    3.1942,
    3.2772,
    3.3511,
    3.4180,
    3.5981,
)
"""Open-circuit voltage of a lithium iron phosphate cell (Sunil, Pattipati, Balasingam, IEEE
Trans. Instrum. Meas. 2025, C/32 pseudo-OCV)."""

CHARGE_EFFICIENCY: Final = 0.995


def cell_voltage(soc: float) -> float:
    """Return a cell's open-circuit voltage at that state of charge, percent."""
    index = min(max(bisect_right(OCV_SOC, soc) - 1, 0), len(OCV_SOC) - 2)
    low, high = OCV_SOC[index], OCV_SOC[index + 1]
    share = min(1.0, max(0.0, (soc - low) / (high - low)))
    return OCV_V[index] + share * (OCV_V[index + 1] - OCV_V[index])


def _accept_w(bank: SimBank, soc: float, voltage_v: float) -> float:
    """Return what the bank takes while nearly full; the controllers hold it back."""
    if soc < 97.0:
        return math.inf
    return max(0.0, 0.25 * bank.capacity_ah * (100.0 - soc) / 3.0 * voltage_v)


@dataclass(frozen=True, slots=True)
class Supply:
    """What the sun, the engine and the bank do, per grid cell of ten seconds.

    `available_w` is what the array could give, `accept_w` what the bank would take on
    top of the load (infinite until it is nearly full), `soc` the state of charge in percent
    at the beginning of the cell, `solar_w` and `bank_w` means (bank positive while
    charging).
    """

    start_s: float
    available_w: array[float]
    accept_w: array[float]
    solar_w: array[float]
    engine_w: array[float]
    bank_w: array[float]
    soc: array[float]
    dc_load: Steps
    bank: SimBank

    def _cell(self, at_s: float) -> int:
        return min(max(int((at_s - self.start_s) / GRID_S), 0), len(self.soc) - 1)

    def solar_at(self, at_s: float) -> float:
        """Return the array's power at one moment, W."""
        cell = self._cell(at_s)
        after = min(cell + 1, len(self.soc) - 1)
        share = (at_s - self.start_s) / GRID_S - cell
        available = self.available_w[cell]
        available += min(1.0, max(0.0, share)) * (self.available_w[after] - available)
        accept = self.accept_w[cell]
        if accept == math.inf:
            return available
        # A controller that is held back follows the load within a few seconds.
        wanted = self.dc_load.mean(at_s - 3.0, at_s) + accept - self.engine_w[cell]
        return max(0.0, min(available, wanted))

    def engine_at(self, at_s: float) -> float:
        """Return the engine's charging power at one moment, W."""
        return self.engine_w[self._cell(at_s)]

    def bank_at(self, at_s: float, window_s: float) -> float:
        """Return the bank's power over a window that ends then, W, positive charging."""
        load = self.dc_load.mean(at_s - window_s, at_s)
        return self.solar_at(at_s) + self.engine_at(at_s) - load

    def soc_at(self, at_s: float) -> float:
        """Return the state of charge, percent."""
        return self.soc[self._cell(at_s)]

    def voltage_at(self, at_s: float, power_w: float) -> float:
        """Return the bank's voltage while `power_w` flows into it."""
        rest = self.bank.cells * cell_voltage(self.soc_at(at_s))
        return rest + self.bank.ohm * power_w / rest


def available_power(
    boat: SimBoat, clearness: array[float], start_s: float
) -> array[float]:
    """Return what the array could give in each grid cell, W."""
    latitude, longitude = boat.description["latitude"], boat.description["longitude"]
    panels = boat.array
    result = array("f")
    irradiance, elevation = 0.0, 0.0
    for cell, clear in enumerate(clearness):
        if cell % 6 == 0:
            elevation, azimuth = elevation_azimuth(
                latitude, longitude, start_s + cell * GRID_S
            )
            irradiance = clear_sky_w_m2(elevation)
            if 0 < elevation < panels.shade_below_deg and azimuth < 180:
                irradiance *= 1 - panels.shade_share
        sun = irradiance * clear
        cell_c = 20 + 0.036 * sun
        factor = 1 - 0.0035 * (cell_c - 25)
        result.append(
            max(0.0, panels.array_w * sun / 1000 * panels.yield_share * factor)
        )
    return result


def simulate_supply(
    boat: SimBoat,
    rng: random.Random,
    clock: BoatClock,
    clearness: array[float],
    dc_load: Steps,
    start_s: float,
) -> Supply:
    """Let sun, engine and bank carry the load, cell after cell."""
    available = available_power(boat, clearness, start_s)
    bank = boat.bank
    accept, solar, engine = array("f"), array("f"), array("f")
    bank_w, socs = array("f"), array("f")
    soc = bank.start_soc
    engine_until_s, engine_w = 0.0, 0.0
    before_j = dc_load.integral_j(start_s)
    for cell, could in enumerate(available):
        at_s = start_s + cell * GRID_S
        after_j = dc_load.integral_j(at_s + GRID_S)
        load_w = (after_j - before_j) / GRID_S
        before_j = after_j
        if cell % 30 == 0 and at_s >= engine_until_s:
            engine_w = 0.0
            if (
                boat.charger_w
                and soc < bank.engine_soc
                and (8 <= clock.hour(at_s) < 20.5 or soc < 15)
            ):
                engine_until_s = at_s + rng.uniform(3600, 9000)
                engine_w = boat.charger_w * rng.uniform(0.85, 1.0)
        rest_v = bank.cells * cell_voltage(soc)
        takes = _accept_w(bank, soc, rest_v)
        from_engine = min(engine_w * rng.gauss(1, 0.004), takes + load_w)
        from_sun = min(could, max(0.0, takes + load_w - from_engine))
        net_w = from_sun + from_engine - load_w
        current = net_w / (rest_v + bank.ohm * net_w / rest_v)
        accept.append(takes)
        solar.append(from_sun)
        engine.append(from_engine)
        bank_w.append(net_w)
        socs.append(soc)
        gain = CHARGE_EFFICIENCY if current > 0 else 1.0
        soc += gain * current * GRID_S / 36.0 / bank.capacity_ah
        soc = min(100.0, max(0.5, soc))
    return Supply(
        start_s, available, accept, solar, engine, bank_w, socs, dc_load, bank
    )
