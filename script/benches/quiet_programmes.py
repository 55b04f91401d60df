"""What each kind does quietly, three shapes each: pieces of time and power.

Shapes of appliances as they are seen to be, common practice, no source. What a piece draws
comes on top of the appliance's standby; an appliance at rest within its programme draws
no more than that.
"""

from dataclasses import dataclass
from typing import Final

MINUTE: Final = 60.0
HOUR: Final = 3600.0

type Pieces = tuple[tuple[float, float], ...]
"""Seconds, and W beside the standby."""


@dataclass(frozen=True, slots=True)
class Programmes:
    """A kind's rating and standby, W, and three programmes by name."""

    rated_w: float
    standby_w: float
    shapes: dict[str, Pieces]


def pulses(
    hours: float, on_s: float, on_w: float, off_s: float, off_w: float
) -> Pieces:
    """Return pulses for about so many hours, the last piece a pulse."""
    count = max(1, round(hours * HOUR / (on_s + off_s)))
    return ((off_s, off_w), (on_s, on_w)) * count


QUIET: Final[dict[str, Programmes]] = {
    "induction_hob": Programmes(
        1800,
        8,
        {
            "simmers in pulses": ((300, 1700), *pulses(1, 6, 900, 14, 10)),
            "stands at its lowest level": ((240, 1800), (3000, 200)),
            "a pan is lifted": (
                (300, 1500),
                (20, 10),
                (600, 700),
                (25, 10),
                (300, 400),
            ),
        },
    ),
    "electric_hob": Programmes(
        1200,
        0.6,
        {
            "cycles low": ((400, 1200), *pulses(1.2, 15, 1200, 90, 0)),
            "cycles a small plate": ((300, 700), *pulses(1, 40, 700, 60, 0)),
            "cycles very low": ((600, 1200), *pulses(1.5, 20, 1200, 130, 0)),
        },
    ),
    "oven": Programmes(
        1500,
        3,
        {
            "bakes": ((720, 1500), *pulses(1.2, 60, 1500, 180, 28)),
            "keeps warm": ((400, 1500), *pulses(3, 25, 1500, 420, 28)),
            "lets dough rise": ((60, 1500), *pulses(1.5, 12, 1500, 700, 22)),
        },
    ),
    "water_bath": Programmes(
        1000,
        2,
        {
            "holds steadily at 40 W": ((1300, 1000), (6 * HOUR, 40)),
            "tapers to 13 W": ((1500, 1000), (600, 300), (900, 90), (5 * HOUR, 13)),
            "pulses a quarter hour apart": (
                (1800, 1000),
                *pulses(6, 15, 900, 900, 0),
            ),
        },
    ),
    "kettle": Programmes(
        2000,
        1,
        {
            "boils": ((240, 2000),),
            "keeps hot": ((240, 2000), *pulses(0.7, 6, 2000, 200, 0)),
            "keeps hot, well insulated": ((300, 2000), *pulses(0.9, 10, 2000, 420, 0)),
        },
    ),
    "toaster": Programmes(
        900,
        0.6,
        {
            "toasts": ((150, 900),),
            "toasts twice": ((150, 900), (60, 0), (160, 900)),
            "toasts for a crew": ((150, 900), (40, 0)) * 4 + ((150, 900),),
        },
    ),
    "microwave": Programmes(
        1200,
        3,
        {
            "thaws": pulses(0.5, 6, 1150, 24, 45),
            "at half power": pulses(0.3, 15, 1150, 15, 45),
            "warms, is stirred, warms": ((180, 1150), (70, 0), (120, 1150)),
        },
    ),
    "rice_cooker": Programmes(
        500,
        1,
        {
            "keeps warm at 30 W": ((1500, 500), (7 * HOUR, 30)),
            "keeps warm in pulses": ((1400, 500), *pulses(4, 4, 500, 90, 0)),
            "keeps warm, well insulated": ((1400, 500), *pulses(5, 40, 60, 700, 0)),
        },
    ),
    "slow_cooker": Programmes(
        200,
        1,
        {
            "14 W after it was hot": ((2.5 * HOUR, 200), (5 * HOUR, 14)),
            "14 W from the start": ((7 * HOUR, 14),),
            "a thermostat": ((1 * HOUR, 200), *pulses(5, 300, 200, 900, 0)),
        },
    ),
    "pressure_cooker": Programmes(
        900,
        2,
        {
            "lets off its pressure, keeps warm": (
                (800, 900),
                *pulses(0.5, 8, 900, 50, 2),
                (40 * MINUTE, 1),
                (4 * HOUR, 22),
            ),
            "keeps warm in rare pulses": (
                (700, 900),
                *pulses(0.4, 8, 900, 60, 2),
                *pulses(5, 8, 900, 800, 1),
            ),
            "a stew under pressure": ((900, 900), *pulses(1.5, 8, 900, 110, 2)),
        },
    ),
    "bread_maker": Programmes(
        600,
        1.5,
        {
            "last rise 90 of 155 minutes": (
                *pulses(0.1, 4, 70, 4, 2),
                (12 * MINUTE, 80),
                (90 * MINUTE, 0.5),
                *pulses(0.75, 45, 600, 50, 2),
            ),
            "rises three times": (
                (20 * MINUTE, 80),
                (40 * MINUTE, 0.5),
                (10 * MINUTE, 80),
                (60 * MINUTE, 0.5),
                (60, 80),
                (75 * MINUTE, 0.5),
                *pulses(0.9, 45, 600, 50, 2),
            ),
            "waits for flour to warm": (
                *pulses(0.5, 4, 600, 120, 2),
                (20 * MINUTE, 80),
                *pulses(1.5, 3, 600, 240, 1),
                *pulses(0.9, 45, 600, 50, 2),
            ),
        },
    ),
    "coffee_maker": Programmes(
        900,
        1,
        {
            "a plate at 25 W": ((400, 900), (2 * HOUR, 25)),
            "a plate in pulses": ((400, 900), *pulses(1.5, 12, 900, 120, 0)),
            "a thermos plate": ((450, 900), *pulses(2, 20, 300, 800, 0)),
        },
    ),
    "water_heater": Programmes(
        1200,
        1,
        {
            "heats": ((3000, 1200),),
            "keeps its tank hot": ((3000, 1200), *pulses(6, 150, 1200, 2300, 0)),
            "a leaky tank": ((2000, 1200), *pulses(4, 200, 1200, 700, 0)),
        },
    ),
}
