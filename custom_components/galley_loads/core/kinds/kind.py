"""Kinds of appliance, and which description belongs to each.

A kind is a description, nothing else: the states that an appliance of that kind goes
through, how much of its rated power it draws in each, how long it usually stays and what
may follow. Inference, meals, dishes and standby all read these entries. To add a kind,
describe it in `descriptions`, add a member to `Kind` and an entry to `DESCRIPTIONS`; no
other code knows kinds by name.
"""

from enum import StrEnum
from typing import Final

from . import descriptions
from .behaviour import Description


class Kind(StrEnum):
    """The kinds a boat file may name."""

    INDUCTION_HOB = "induction_hob"
    ELECTRIC_HOB = "electric_hob"
    OVEN = "oven"
    WATER_BATH = "water_bath"
    KETTLE = "kettle"
    TOASTER = "toaster"
    MICROWAVE = "microwave"
    RICE_COOKER = "rice_cooker"
    SLOW_COOKER = "slow_cooker"
    PRESSURE_COOKER = "pressure_cooker"
    BREAD_MAKER = "bread_maker"
    COFFEE_MAKER = "coffee_maker"
    WATER_HEATER = "water_heater"
    OTHER = "other"

    @property
    def is_cooking(self) -> bool:
        """Whether a run of this kind belongs to a meal."""
        return DESCRIPTIONS[self].cooking

    @property
    def is_hot_water(self) -> bool:
        """Whether this kind heats water to wash with: never part of a meal."""
        return DESCRIPTIONS[self].hot_water

    @property
    def is_hot_drink(self) -> bool:
        """Whether a run of this kind alone is called a hot drink rather than a meal."""
        return DESCRIPTIONS[self].hot_drink

    @property
    def default_standby_w(self) -> float:
        """What a live, idle appliance of this kind draws where nobody knows better, W."""
        return DESCRIPTIONS[self].standby_w

    @property
    def typical_power_share(self) -> float:
        """Mean draw while in use as a share of the rated power."""
        return DESCRIPTIONS[self].typical_share

    def typical_energy_wh(self, rated_power_w: float, minutes: float) -> float:
        """Energy that `minutes` of use are expected to take, Wh.

        The heat-up at full power comes first, the kind's holding share follows.
        """
        description = DESCRIPTIONS[self]
        heating = min(minutes, description.heat_up_minutes)
        holding = minutes - heating
        share_minutes = heating + holding * description.holding_share
        return rated_power_w * share_minutes / 60.0


DESCRIPTIONS: Final[dict[Kind, Description]] = {
    Kind.INDUCTION_HOB: descriptions.INDUCTION_HOB,
    Kind.ELECTRIC_HOB: descriptions.ELECTRIC_HOB,
    Kind.OVEN: descriptions.OVEN,
    Kind.WATER_BATH: descriptions.WATER_BATH,
    Kind.KETTLE: descriptions.KETTLE,
    Kind.TOASTER: descriptions.TOASTER,
    Kind.MICROWAVE: descriptions.MICROWAVE,
    Kind.RICE_COOKER: descriptions.RICE_COOKER,
    Kind.SLOW_COOKER: descriptions.SLOW_COOKER,
    Kind.PRESSURE_COOKER: descriptions.PRESSURE_COOKER,
    Kind.BREAD_MAKER: descriptions.BREAD_MAKER,
    Kind.COFFEE_MAKER: descriptions.COFFEE_MAKER,
    Kind.WATER_HEATER: descriptions.WATER_HEATER,
    Kind.OTHER: descriptions.OTHER,
}
