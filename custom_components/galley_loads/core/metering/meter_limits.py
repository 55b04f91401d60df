"""What the meters of a boat can tell at most: beyond it, a meter has failed for a reading.

A bus that lost a message hands over a register full of ones as if it were a power: 65,535 W.
So each meter's limits follow, amply, from what the boat file says of inverter, bank, array
and appliances. Surges of a few seconds, shore power that passes through an inverter, and
plates that say too little are all within them. (How far each goes beyond its plate is
common practice, no source.)

Scaled by a tenth or a hundredth such a register is 3,276.7 W, which another meter might tell.
The digits give it away: they are those of a 16-bit register that says *not available*.
"""

from dataclasses import dataclass
from decimal import Decimal
from math import inf
from typing import Final

from ..boat.boat import Appliance, Boat, Supply

LARGEST_VALUE: Final = 1e6
"""No boat's sensor tells more W or A: such a number is a fault of its meter."""

LARGEST_SOC: Final = 105.0
"""Some gauges count a little past full; what is far past it is a fault."""

COLDEST_C: Final = -80.0
HOTTEST_C: Final = 150.0
VOLTAGE_RANGE: Final = (0.5, 2.0)
"""Shares of the nominal voltage between which a living bank lies, amply."""

SURGE: Final = 3.0
"""Inverters give about twice their continuous power for seconds, banks likewise."""

SHORE_W: Final = 15_000.0
"""Shore power passes through inverters larger than which no small boat's plug is."""

BANK_PER_HOUR: Final = 5.0
"""Of its capacity; a bank of which no limit is stated gives less."""

APPLIANCE_TIMES: Final = 5.0
LEAST_LIMIT_W: Final = 5_000.0
"""Where a plate says little, it may have been written down wrongly."""

LIKELY_ARRAY: Final = 1.5
LIKELY_APPLIANCE: Final = 1.5
LIKELY_VOLTAGE: Final = 1.25
LIKELY_PER_HOUR: Final = 0.5

_ALL_ONES: Final = frozenset(tuple(map(int, str(n))) for n in (0x7FFF, 0x8000, 0xFFFF))
"""What 16-bit registers hold where there is no value: 0x7FFF and 0xFFFF (NMEA 2000), 0x8000
and 0xFFFF (SunSpec)."""


@dataclass(frozen=True, slots=True)
class MeterLimits:
    """Between what a meter's values lie, in its base unit.

    Beyond `likely`, whatever the sign, a value with the digits of an empty register is none.
    """

    least: float
    most: float
    likely: float = inf

    def allow(self, value: float, text: str) -> bool:
        """Return whether a value, and the text that told it, can be."""
        # Whatever is not a finite number lies outside of any range.
        if not self.least <= value <= self.most:
            return False
        return abs(value) <= self.likely or not _is_all_ones(text)


def _is_all_ones(text: str) -> bool:
    return Decimal(text.strip()).normalize().as_tuple().digits in _ALL_ONES


def _either_way(most: float, likely: float = inf) -> MeterLimits:
    """Return limits for both directions: a meter may be mounted the wrong way round."""
    return MeterLimits(-most, most, likely)


ANYTHING: Final = _either_way(LARGEST_VALUE)
SOC_LIMITS: Final = MeterLimits(0.0, LARGEST_SOC)
TEMPERATURE_LIMITS: Final = MeterLimits(COLDEST_C, HOTTEST_C)


def voltage_limits(boat: Boat) -> MeterLimits:
    """Return the limits of the bank's voltage, V."""
    nominal_v = boat.bank.nominal_voltage_v
    least, most = (share * nominal_v for share in VOLTAGE_RANGE)
    return MeterLimits(least, most, LIKELY_VOLTAGE * nominal_v)


def ac_limits(boat: Boat) -> MeterLimits:
    """Return the limits of what an inverter delivers or passes through, W."""
    if boat.inverter is None:
        return ANYTHING
    continuous_w = boat.inverter.continuous_power_w
    return _either_way(max(SURGE * continuous_w, SHORE_W), continuous_w)


def bank_limits(boat: Boat) -> MeterLimits:
    """Return the limits of what flows into the bank or out of it, W.

    They hold for DC loads and chargers too, which have to take it from there or bring it.
    """
    bank = boat.bank
    full_wh = bank.capacity_ah * bank.nominal_voltage_v
    most_w, likely_w = BANK_PER_HOUR * full_wh, LIKELY_PER_HOUR * full_wh
    if bank.max_discharge_current_a is not None:
        likely_w = bank.max_discharge_current_a * bank.nominal_voltage_v
        most_w = SURGE * likely_w
    if boat.inverter is not None:
        inverter_w = boat.inverter.continuous_power_w / boat.conversion
        most_w = max(most_w, SURGE * inverter_w)
    if boat.solar is not None:
        most_w = max(most_w, SURGE * boat.solar.array_power_w)
    return _either_way(max(most_w, SHORE_W), likely_w)


def current_limits(boat: Boat) -> MeterLimits:
    """Return the limits of the bank's current, A."""
    power, nominal_v = bank_limits(boat), boat.bank.nominal_voltage_v
    return _either_way(power.most / nominal_v, power.likely / nominal_v)


def solar_limits(boat: Boat) -> MeterLimits:
    """Return the limits of what the array, or a part of it, gives, W."""
    if boat.solar is None:
        return ANYTHING
    array_w = boat.solar.array_power_w
    return _either_way(max(SURGE * array_w, LEAST_LIMIT_W), LIKELY_ARRAY * array_w)


def appliance_limits(boat: Boat, appliance: Appliance) -> MeterLimits:
    """Return the limits of an appliance's own meter, W on the AC side."""
    rated_w = appliance.rated_power_w
    if appliance.supply is Supply.DC:
        rated_w *= boat.conversion
    most_w = max(APPLIANCE_TIMES * rated_w, LEAST_LIMIT_W)
    return _either_way(most_w, LIKELY_APPLIANCE * rated_w)
