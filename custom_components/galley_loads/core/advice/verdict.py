"""The verdict: cook now, wait, or hold off, by what each start is worth.

The worth of a start is what is in the bank at the end of the look (a day later), less
twice the dish where the dish takes the bank below a reserve that it would have kept
without it, less the crew's patience for every hour of waiting. Every start is weighed over
the same possible futures, so the gain of a later start over now is known in each of them.

Hold off: in most futures every start makes such a breach, and without the dish the bank
keeps its reserve. Wait: a later start is worth more on average, by more than a trifle, and
that hardly ever goes wrong, or now is a risk that the later start plainly lessens. Cook
now: otherwise, and where the risk is more than one in ten, it is told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from .answer import Verdict
from .patience import Patience
from .starts import Start

LEAST_CHANCE: Final = 0.9
"""The chance to keep the reserve that is aimed for."""

BREACH_DISHES: Final = 2.0
"""A breach by the dish's doing counts as much as this many times its energy."""

_HELD_SHARE: Final = 0.5
_KEPT_WITHOUT: Final = 0.85
_SURE_SHARE: Final = 0.85
_RISK: Final = 0.1
_LESS_RISK: Final = 0.15
_AS_GOOD_SHARE: Final = 0.005
_FROM_REFUSED: Final = 0.5


class Gain(StrEnum):
    """Why a later start is better."""

    AVOIDS_BREACH = "avoids_breach"
    LEAVES_MORE = "leaves_more"
    USES_REFUSED_SUN = "uses_refused_sun"


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict and the start it rests on; with a verdict to hold off, the first start.

    `gain_wh` is what the bank is expected to have more of at the end for having waited,
    breaches avoided within; `more_wh` is the energy alone. Both are 0 unless the verdict is
    to wait. `caused` is the chance that
    the dish, started then, takes the bank below a reserve it would have kept.
    """

    verdict: Verdict
    start: Start
    gains: tuple[Gain, ...] = ()
    gain_wh: float = 0.0
    more_wh: float = 0.0

    @property
    def caused(self) -> float:
        """The chance of a breach by the dish's doing, 0 to 1."""
        return self.start.chance_caused


def decide(
    starts: Sequence[Start],
    dish_wh: float,
    patience: Patience = Patience.MIDDLE,
    chance_without: float = 1.0,
) -> Decision:
    """Return the verdict on starts in order of time, the first of which is now.

    Args:
        starts: what each start comes to; at least one.
        dish_wh: what the dish takes.
        patience: what waiting costs.
        chance_without: the chance that the bank keeps its reserve without the dish.
    """
    now = starts[0]
    if chance_without >= _KEPT_WITHOUT and _never_safe(starts) >= _HELD_SHARE:
        return Decision(Verdict.HOLD_OFF, now)
    best: tuple[float, Start, float] | None = None
    trifle_wh = patience.least_share * dish_wh
    for start in starts[1:]:
        waiting_wh = patience.wh_per_hour * (start.at_s - now.at_s) / 3600.0
        gains = _gains_wh(now, start, dish_wh)
        mean_wh = sum(gains) / len(gains)
        if mean_wh < max(waiting_wh, trifle_wh):
            continue
        sure = sum(g >= waiting_wh for g in gains) >= _SURE_SHARE * len(gains)
        less_risk = now.chance_caused - start.chance_caused
        if not sure and not (now.chance_caused > _RISK and less_risk >= _LESS_RISK):
            continue
        worth = mean_wh - waiting_wh
        if best is None or worth > best[0] + _AS_GOOD_SHARE * dish_wh:
            best = (worth, start, mean_wh)
    if best is None:
        return Decision(Verdict.COOK_NOW, now)
    _, start, gain_wh = best
    more_wh = _mean(now.owed_wh) - _mean(start.owed_wh)
    gains_by = _reasons(now, start, gain_wh)
    return Decision(Verdict.WAIT, start, gains_by, gain_wh, more_wh)


def _never_safe(starts: Sequence[Start]) -> float:
    """Return the share of futures in which every start makes a breach of its own."""
    futures = list(zip(*(start.caused for start in starts), strict=True))
    return sum(all(one) for one in futures) / len(futures)


def _gains_wh(now: Start, later: Start, dish_wh: float) -> list[float]:
    """Return by future what a later start has over now, patience aside."""
    breach_wh = BREACH_DISHES * dish_wh
    return [
        owed_now - owed + breach_wh * (caused_now - caused)
        for owed_now, owed, caused_now, caused in zip(
            now.owed_wh, later.owed_wh, now.closeness, later.closeness, strict=True
        )
    ]


def _reasons(now: Start, later: Start, gain_wh: float) -> tuple[Gain, ...]:
    gains: list[Gain] = []
    if now.chance_caused - later.chance_caused >= _LESS_RISK:
        gains.append(Gain.AVOIDS_BREACH)
    more_wh = _mean(now.owed_wh) - _mean(later.owed_wh)
    used_wh = now.refused_wh - later.refused_wh
    if used_wh > 0.0 and used_wh >= _FROM_REFUSED * gain_wh:
        gains.append(Gain.USES_REFUSED_SUN)
    if more_wh >= _FROM_REFUSED * gain_wh or not gains:
        gains.append(Gain.LEAVES_MORE)
    return tuple(gains)


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
