"""Kinds of appliance: how each behaves."""

from enum import StrEnum


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
