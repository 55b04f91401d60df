"""The answer: a verdict, its start, and the tables behind it."""

from dataclasses import dataclass
from enum import StrEnum

from ..meals.dish_cost import DishCost
from ..phrase import Phrase
from .left_to_cook import LeftToCook
from .limits import Overload
from .starts import Start


class Verdict(StrEnum):
    """What the crew is told."""

    COOK_NOW = "cook_now"
    WAIT = "wait"
    HOLD_OFF = "hold_off"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ForecastStep:
    """One quarter hour ahead: the sun in W, the background in W on the AC side.

    `soc` is the bank's course without the dish in percent, with its 10 and 90 % values.
    """

    at_s: float
    solar_w: float
    solar_w_p10: float
    solar_w_p90: float
    background_w: float
    soc: float
    soc_p10: float
    soc_p90: float


@dataclass(frozen=True, slots=True)
class Advice:
    """What was found. Charges in percent, energies in Wh on the AC side.

    `start_s` is None unless the verdict is to cook now or to wait. What belongs to a
    start (`soc_lowest`, `drawn_ah`, ...) is that start's; with a verdict to hold off it is
    that of cooking now. Values are None where the verdict is unknown. `full_at_s` is when
    the bank is expected to be full, None if not within a day. `gain_wh` is what waiting is
    expected to bring, None unless it is advised; `chance_without` the chance that the
    reserve is kept without the dish, `chance_caused` that the dish breaks it,
    `chance_without_engine` that it is kept with the dish though nobody charges as usual.
    """

    verdict: Verdict
    at_s: float
    dish: str
    reasons: tuple[Phrase, ...]
    start_s: float | None = None
    confidence: float = 0.0
    cost: DishCost | None = None
    dish_ah: float | None = None
    soc_now: float | None = None
    above_reserve_wh: float | None = None
    soc_lowest: float | None = None
    soc_lowest_p10: float | None = None
    lowest_at_s: float | None = None
    full_at_s: float | None = None
    drawn_ah: float | None = None
    from_sun_wh: float | None = None
    soc_at_sunrise: float | None = None
    sunrise_s: float | None = None
    left: LeftToCook | None = None
    gain_wh: float | None = None
    chance_without: float | None = None
    chance_caused: float | None = None
    chance_without_engine: float | None = None
    clear_sky_index: float | None = None
    overloads: tuple[Overload, ...] = ()
    starts: tuple[Start, ...] = ()
    forecast: tuple[ForecastStep, ...] = ()
