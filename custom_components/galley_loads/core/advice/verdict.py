"""The verdict: cook now, wait, or hold off, by one fixed rule.

Cook now: the bank stays above its reserve with at least nine chances in ten, and no later
start is materially better. Wait: one is. Hold off: no start keeps the reserve.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from .answer import Verdict
from .starts import Start

LEAST_CHANCE: Final = 0.9
MATERIAL_SHARE: Final = 0.1
_LEAST_SPARED_SHARE: Final = 0.02
_AS_GOOD_SHARE: Final = 0.005


class Gain(StrEnum):
    """Why a later start is materially better."""

    AVOIDS_BREACH = "avoids_breach"
    SPARES_BANK = "spares_bank"
    USES_REFUSED_SUN = "uses_refused_sun"


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict and the start it rests on; with a verdict to hold off, the first start."""

    verdict: Verdict
    start: Start
    gains: tuple[Gain, ...] = ()


def decide(starts: Sequence[Start], dish_ah: float, dish_dc_wh: float) -> Decision:
    """Return the verdict on starts in order of time, the first of which is now.

    Args:
        starts: what each start comes to; at least one.
        dish_ah: what the dish takes at the bank.
        dish_dc_wh: the same as energy at the bank's side.
    """
    now = starts[0]
    safe = [s for s in starts if s.chance_above_reserve >= LEAST_CHANCE]
    if not safe:
        return Decision(Verdict.HOLD_OFF, now)
    best = _earliest_as_good(safe, dish_ah)
    if now.chance_above_reserve < LEAST_CHANCE:
        return Decision(Verdict.WAIT, best, (Gain.AVOIDS_BREACH,))
    gains = _gains(now, best, dish_ah, dish_dc_wh)
    if not gains:
        # The start that spares most may not be the one that uses the refused sun.
        unused = min(safe, key=lambda s: (s.refused_wh, s.at_s))
        gains = _gains(now, unused, dish_ah, dish_dc_wh)
        best = unused
    if gains:
        return Decision(Verdict.WAIT, best, gains)
    return Decision(Verdict.COOK_NOW, now)


def _earliest_as_good(safe: Sequence[Start], dish_ah: float) -> Start:
    """Return the earliest start that draws as little as the best, to a trifle."""
    least = min(s.drawn_ah for s in safe)
    return next(s for s in safe if s.drawn_ah <= least + _AS_GOOD_SHARE * dish_ah)


def _gains(
    now: Start, later: Start, dish_ah: float, dish_dc_wh: float
) -> tuple[Gain, ...]:
    if later.at_s <= now.at_s:
        return ()
    gains: list[Gain] = []
    spared_ah = now.drawn_ah - later.drawn_ah
    material_ah = max(MATERIAL_SHARE * now.drawn_ah, _LEAST_SPARED_SHARE * dish_ah)
    if spared_ah > 0.0 and spared_ah >= material_ah:
        gains.append(Gain.SPARES_BANK)
    used_wh = now.refused_wh - later.refused_wh
    if used_wh >= MATERIAL_SHARE * dish_dc_wh and dish_dc_wh > 0.0 and spared_ah >= 0.0:
        gains.append(Gain.USES_REFUSED_SUN)
    return tuple(gains)
