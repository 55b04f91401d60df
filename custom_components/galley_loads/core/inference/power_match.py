"""How far a run's confidence goes, given the power at which it heated.

Explanations are weighed against each other; that all of them may be wrong, none of them
knows. The power tells: a heater that draws what it is known to draw is seldom somebody
else's, one that draws a tenth less or more mostly is, and a level that may be anything
proves least. The factors are the shares of such runs that were right on simulated boats.
"""

from collections.abc import Container
from typing import Final

from .explanation import UNNAMED, Moment
from .learned import PowerBelief
from .machine import Machine

NEAR_SHARE: Final = 0.025
NEAR_SDS: Final = 1.0
ALMOST_SHARE: Final = 0.045
ALMOST_SDS: Final = 1.8
ALMOST: Final = 0.82
FAR: Final = 0.6
ANY_LEVEL: Final = 0.87
SHORT_S: Final = 60.0
SHORT: Final = 0.5
"""A run that was over in less than a minute has hardly any shape."""


def power_factors(
    machines: tuple[Machine, ...],
    beliefs: tuple[PowerBelief, ...],
    path: list[Moment],
    running: Container[tuple[int, float]],
) -> dict[tuple[int, float], float]:
    """Return, for every run within a stretch of past, by what to multiply its confidence.

    What a meter caught half-way counts for nothing; a run of which only that is known keeps
    its confidence. How long those in `running` will be is not known yet.
    """
    full: dict[tuple[int, float], list[float]] = {}
    for moment in path:
        if moment.edge:
            continue
        span_s = moment.end_s - moment.start_s
        for part in moment.parts:
            if part.index == UNNAMED or part.partial:
                continue
            draw = machines[part.index].states[part.state].draw
            sums = full.setdefault((part.index, part.run_start_s), [0.0, 0.0, 0.0, 0.0])
            sums[0] += span_s
            if draw == "full":
                sums[1] += span_s
                sums[2] += span_s * part.power_w
            elif draw == "level":
                sums[3] += span_s
    return {
        key: _factor(machines[key[0]], beliefs[key[0]], *sums[1:])
        * (SHORT if sums[0] < SHORT_S and key not in running else 1.0)
        for key, sums in full.items()
    }


def _factor(
    machine: Machine,
    belief: PowerBelief,
    full_s: float,
    full_ws: float,
    level_s: float,
) -> float:
    if full_s > 0.0:
        known_w, sd_w, _ = belief.modes[0]
        off_w = abs(full_ws / full_s - known_w)
        if off_w <= max(NEAR_SHARE * known_w, NEAR_SDS * sd_w):
            return 1.0
        if off_w <= max(ALMOST_SHARE * known_w, ALMOST_SDS * sd_w):
            return ALMOST
        return FAR
    if level_s > 0.0:
        # A hob has no power of its own; what heats at full power else did not.
        return FAR if machine.has_full else ANY_LEVEL
    return 1.0
