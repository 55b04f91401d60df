"""The catalogue of kinds: every kind that a boat file may name.

To add a kind, describe it in a file of this folder and name it here.
"""

from typing import Final

from . import descriptions
from .kind import Catalogue, Kind

INDUCTION_HOB: Final = Kind(descriptions.INDUCTION_HOB)
ELECTRIC_HOB: Final = Kind(descriptions.ELECTRIC_HOB)
OVEN: Final = Kind(descriptions.OVEN)
WATER_BATH: Final = Kind(descriptions.WATER_BATH)
KETTLE: Final = Kind(descriptions.KETTLE)
TOASTER: Final = Kind(descriptions.TOASTER)
MICROWAVE: Final = Kind(descriptions.MICROWAVE)
RICE_COOKER: Final = Kind(descriptions.RICE_COOKER)
SLOW_COOKER: Final = Kind(descriptions.SLOW_COOKER)
PRESSURE_COOKER: Final = Kind(descriptions.PRESSURE_COOKER)
BREAD_MAKER: Final = Kind(descriptions.BREAD_MAKER)
COFFEE_MAKER: Final = Kind(descriptions.COFFEE_MAKER)
WATER_HEATER: Final = Kind(descriptions.WATER_HEATER)
OTHER: Final = Kind(descriptions.OTHER)

KINDS: Final = Catalogue(
    INDUCTION_HOB,
    ELECTRIC_HOB,
    OVEN,
    WATER_BATH,
    KETTLE,
    TOASTER,
    MICROWAVE,
    RICE_COOKER,
    SLOW_COOKER,
    PRESSURE_COOKER,
    BREAD_MAKER,
    COFFEE_MAKER,
    WATER_HEATER,
    OTHER,
)
