"""What leaving something on standby costs the bank."""

from dataclasses import dataclass

from ..boat.boat import Boat


@dataclass(frozen=True, slots=True)
class StandbyCost:
    """The price of a steady draw over a span.

    `energy_wh` is AC-side; `bank_ah` is what leaves the bank for it, conversion loss
    included; `bank_share` is that as a part (0 to 1) of the bank's capacity.
    """

    energy_wh: float
    bank_ah: float
    bank_share: float


def standby_cost(boat: Boat, power_w: float, hours: float) -> StandbyCost:
    """Return what `power_w` on the AC side takes in `hours`.

    Amp-hours are energy over conversion over the bank's nominal voltage; ten loads of
    2 W for a day through an inverter of 0.9 are 480 Wh, 41.67 Ah at 12.8 V.

    Raises:
        ValueError: a power or a span is negative.
    """
    if power_w < 0 or hours < 0:
        raise ValueError(f"power {power_w} W over {hours} h: neither may be negative")
    energy_wh = power_w * hours
    bank_ah = energy_wh / boat.conversion / boat.bank.nominal_voltage_v
    return StandbyCost(energy_wh, bank_ah, bank_ah / boat.bank.capacity_ah)
