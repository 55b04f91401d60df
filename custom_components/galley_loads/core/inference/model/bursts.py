"""What the base load did a moment ago it does again: pumps, lamps, a fridge.

A step up is likely to be followed by its equal down, and that by its equal up: a pump runs
in bursts while somebody washes. Without this memory each burst would be news, and anything
aboard that pulses at little power would explain a pump better than the pump does. The rate
of a return falls with the time since, as 1 / (t + pace), and with how often it came back
already: nobody washes up for a hundred bursts, but a bread maker kneads for as many.
"""

from math import log
from typing import Final

from .normal_law import LOG_ROOT_TAU

LEAST_W: Final = 8.0
"""Judgement, W: smaller steps are not remembered."""
SPREAD_SHARE: Final = 0.04
"""Judgement, a share: by how much of itself a motor's draw differs from one start to
the next."""
NEAR_SDS: Final = 3.0
"""Judgement, standard deviations: a step further off is another load's."""
GOES_CHANCE: Final = 0.6
"""Judgement, a factor of the rate at which what came on goes off again."""
GOES_PACE_S: Final = 20.0
"""Judgement, s: time after which that rate is half of what it was at first."""
COMES_CHANCE: Final = 0.4
"""Judgement, a factor of the rate at which what went off comes back."""
COMES_PACE_S: Final = 60.0
"""Judgement, s: time after which that rate is half of what it was at first."""
SPELL_S: Final = 600.0
"""Judgement, s: what stayed away for longer begins to count anew."""
USUAL_RETURNS: Final = 8.0
"""Judgement, a number: how often a pump comes back within one spell, at the most
likely."""
KEPT: Final = 3
"""Judgement, a number: small loads that are remembered."""

type Burst = tuple[float, bool, float, int]
"""A small load of the base load: its draw in W, whether it is on, since when, and how
often it has come back within this spell."""


def _spread(draw_w: float, variance: float) -> float:
    return float((variance + (SPREAD_SHARE * draw_w) ** 2) ** 0.5)


def returning(bursts: tuple[Burst, ...], step_w: float, variance: float) -> int:
    """Return which of the loads made a step, the latest first; -1 if none did."""
    size = abs(step_w)
    for number in range(len(bursts) - 1, -1, -1):
        draw_w, on, _, _ = bursts[number]
        gap = size - draw_w
        if on == (step_w < 0.0) and abs(gap) < NEAR_SDS * _spread(draw_w, variance):
            return number
    return -1


def return_cost(
    burst: Burst, step_w: float, at_s: float, period_s: float, variance: float
) -> float:
    """Return the cost of that load going or coming back within a period of the meter."""
    draw_w, on, since_s, returns = burst
    chance, pace_s = (GOES_CHANCE, GOES_PACE_S) if on else (COMES_CHANCE, COMES_PACE_S)
    spread = _spread(draw_w, variance)
    off = (abs(step_w) - draw_w) / spread
    rate = chance / (max(0.0, at_s - since_s) + pace_s)
    if not on:
        rate /= 1.0 + (returns / USUAL_RETURNS) ** 2
    return 0.5 * off * off + log(spread) + LOG_ROOT_TAU - log(rate * period_s)


def remembered(
    bursts: tuple[Burst, ...], step_w: float, at_s: float, number: int
) -> tuple[Burst, ...]:
    """Return the loads after a step that load `number` made, or a new one (-1)."""
    if abs(step_w) < LEAST_W:
        return bursts
    returns = 0
    if number >= 0 and at_s - bursts[number][2] < SPELL_S:
        returns = bursts[number][3] + (step_w > 0.0)
    burst = (abs(step_w), step_w > 0.0, at_s, returns)
    rest = bursts if number < 0 else (*bursts[:number], *bursts[number + 1 :])
    return (*rest[-(KEPT - 1) :], burst)
