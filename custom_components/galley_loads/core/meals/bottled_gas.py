"""What a meal would have taken in bottled gas."""

from typing import Final

from ..phrase import PhrasedError, phrase

PROPANE_LOWER_HEATING_VALUE_MJ_KG: Final = 46.35
"""Published lower heating value of propane (kadatec.cz property table, 46.35 MJ/kg;
46.334 from formation enthalpies)."""

DEFAULT_GAS_HOB_EFFICIENCY: Final = 0.55
"""The least that Regulation (EU) 66/2014, Annex I Table 2, lets a gas hob have; measured
hobs range from 0.30 to 0.65 (US EPA ENERGY STAR: about 0.32)."""

DEFAULT_ELECTRIC_EFFICIENCY: Final = 0.85
"""Induction, about 85 % (US EPA ENERGY STAR Emerging Technology Award 2021-22)."""

GAS_EFFICIENCY_RANGE: Final = (0.30, 0.65)


def propane_g(
    energy_wh: float,
    gas_efficiency: float = DEFAULT_GAS_HOB_EFFICIENCY,
    electric_efficiency: float = DEFAULT_ELECTRIC_EFFICIENCY,
) -> float:
    """Return the grams of propane that put the same heat into the pan.

    Args:
        energy_wh: AC-side energy of the meal.
        gas_efficiency: share of the gas's heat that reaches the pan, above 0.
        electric_efficiency: share of the electric energy that reaches the pan.

    Raises:
        PhrasedError: an efficiency is not above 0 and at most 1.
    """
    for name, value in (
        ("gas_efficiency", gas_efficiency),
        ("electric_efficiency", electric_efficiency),
    ):
        if not 0.0 < value <= 1.0:
            raise PhrasedError(phrase("problem.not_a_share", field=name, value=value))
    heat_mj = energy_wh * electric_efficiency * 0.0036
    return heat_mj / gas_efficiency / PROPANE_LOWER_HEATING_VALUE_MJ_KG * 1000.0
