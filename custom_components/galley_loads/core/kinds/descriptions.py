"""How each kind of appliance behaves: the states it goes through and what may follow.

Dwell ranges hold eight of ten dwells (10th to 90th percentile), shares of the time eight of
ten runs. Where no source stands beside a number it is common practice, no source: what
such appliances are seen to do. Shapes need not be exact, they only have to differ.
"""

from .bread_maker import BREAD_MAKER
from .hobs import ELECTRIC_HOB, INDUCTION_HOB
from .hot_water import COFFEE_MAKER, KETTLE, WATER_HEATER
from .other import OTHER
from .ovens import MICROWAVE, OVEN, TOASTER
from .pots import PRESSURE_COOKER, RICE_COOKER, SLOW_COOKER, WATER_BATH

__all__ = [
    "BREAD_MAKER",
    "COFFEE_MAKER",
    "ELECTRIC_HOB",
    "INDUCTION_HOB",
    "KETTLE",
    "MICROWAVE",
    "OTHER",
    "OVEN",
    "PRESSURE_COOKER",
    "RICE_COOKER",
    "SLOW_COOKER",
    "TOASTER",
    "WATER_BATH",
    "WATER_HEATER",
]
