"""The bank's arithmetic: charge in and out, what is usable, what a strong current costs."""

from typing import Final

from ..boat.boat import Bank, Chemistry

FREEZING_C: Final = 0.0

_CHARGE_EFFICIENCY: Final = {
    Chemistry.LFP: 0.99,
    Chemistry.NMC: 0.99,
    Chemistry.AGM: 0.88,
    Chemistry.GEL: 0.88,
    Chemistry.FLOODED: 0.85,
}
"""Charge that comes back of charge put in. Lithium gives back practically all of it
(Batteries 2019, 5(3), 57); lead-acid above 95 % when low and far less near full (Stevens
and Corey, Sandia), here its usual average (common practice, no source)."""

_PEUKERT_EXPONENT: Final = {
    Chemistry.LFP: 1.0,
    Chemistry.NMC: 1.0,
    Chemistry.AGM: 1.10,
    Chemistry.GEL: 1.17,
    Chemistry.FLOODED: 1.25,
}
"""Within the published ranges (batteryguy.com): AGM 1.05-1.15, gel 1.1-1.25, flooded
1.2-1.6. For lithium the law holds over a narrow range only (Omar et al., Energies 6
(2013) 5625), so it is left out."""


def charge_efficiency(bank: Bank) -> float:
    """Return the bank's charge efficiency: stated, else usual for its chemistry."""
    if bank.charge_efficiency is not None:
        return bank.charge_efficiency
    return _CHARGE_EFFICIENCY[bank.chemistry]


def peukert_exponent(bank: Bank) -> float:
    """Return Peukert's exponent: stated, else usual for its chemistry; 1 for lithium."""
    if bank.peukert_exponent is not None:
        return bank.peukert_exponent
    return _PEUKERT_EXPONENT[bank.chemistry]


def counted_soc(
    soc: float, current_a: float, hours: float, capacity_ah: float, efficiency: float
) -> float:
    """Return the state of charge in percent after a constant current, by counting.

    SoC0 + (eta I+ - I-) t / C. `current_a` is positive while charging. Not limited to
    0 to 100: whoever counts decides what an overrun means.
    """
    charge_ah = current_a * hours * (efficiency if current_a > 0.0 else 1.0)
    return soc + 100.0 * charge_ah / capacity_ah


def peukert_hours(
    current_a: float, capacity_ah: float, exponent: float, rated_hours: float
) -> float:
    """Return how long a full bank lasts: t = H (C / (I H))^k, the rated-hour form.

    The capacity is the one stated at `rated_hours`, so that I = C / H lasts exactly that
    long (the bare form t = C / I^k needs the capacity at 1 A instead).
    """
    share: float = (capacity_ah / (current_a * rated_hours)) ** exponent
    return rated_hours * share


def peukert_factor(current_a: float, bank: Bank) -> float:
    """Return by how much a discharge current counts more than its ampere-hours.

    1 up to the rated current C / H and for lithium; beyond, the capacity over what comes
    out at that current. The law holds for a steady current
    and cannot follow a varying one (Doerffel and Abu-Sharkh, J. Power Sources 155 (2006)
    395), so below the rated current nothing is given back.
    """
    rated_a = bank.capacity_ah / bank.rated_hours
    exponent = peukert_exponent(bank)
    if current_a <= rated_a or exponent <= 1.0:
        return 1.0
    hours = peukert_hours(current_a, bank.capacity_ah, exponent, bank.rated_hours)
    return bank.capacity_ah / (current_a * hours)


def usable_wh(bank: Bank, soc: float, point_wh: float | None = None) -> float:
    """Return the energy at the bank above the reserve, never below 0.

    `point_wh` is what one percent gives; None for capacity times nominal voltage.
    """
    if point_wh is None:
        point_wh = bank.capacity_ah * bank.nominal_voltage_v / 100.0
    return max(soc - bank.reserve_soc, 0.0) * point_wh


def accepts_charge(bank: Bank, temperature_c: float | None) -> bool:
    """Return whether charging may count as income.

    Below freezing lithium plates onto the anode, and the bank's own protection refuses
    the charge; lead-acid takes it. An unknown temperature is taken as warm.
    """
    if temperature_c is None or bank.chemistry.is_lead:
        return True
    return temperature_c >= FREEZING_C
