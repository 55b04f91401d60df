"""How far a run's confidence goes, given what it was like as a whole.

Hypotheses are weighed against each other; that all of them may be wrong, none of them
knows. The power tells: a heater that draws what it is known to draw is seldom somebody
else's, one that draws a tenth less or more mostly is, and a level that may be anything
proves least. So does the length, when the run is over: what was shorter than nine of ten of
its kind's runs, or far longer than nine of ten, was mostly somebody else's. The factors are
the shares of such runs that were right on simulated boats.
"""

from collections.abc import Container, Mapping
from typing import Final

from ..learning.learned_power import PowerBelief
from ..model.state_machine import StateMachine
from .plausible import was_left
from .run_shape import RunShape

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
FAR_TOO_BRIEF_SHARE: Final = 0.7
FAR_TOO_BRIEF: Final = 0.35
TOO_BRIEF: Final = 0.67
"""What was briefer than nine of ten of its kind's runs, and than that share of them."""
TOO_LONG_SHARE: Final = 1.2
TOO_LONG: Final = 0.75
FAR_TOO_LONG_SHARE: Final = 1.5
FAR_TOO_LONG: Final = 0.25
"""What lasted for so many times as long as nine of ten of its kind's runs."""
STILL: Final = 0.4
"""Nor has one at one level of a hob, of which nobody touched knob or pan."""


def run_factors(
    machines: tuple[StateMachine, ...],
    beliefs: tuple[PowerBelief, ...],
    shapes: Mapping[tuple[int, float], RunShape],
    running: Container[tuple[int, float]],
) -> dict[tuple[int, float], float]:
    """Return, for every run within a stretch of past, by what to multiply its confidence.

    What a meter caught half-way counts for nothing; a run of which only that is known keeps
    its confidence. How long those in `running` will be is not known yet.
    """
    return {
        key: _power(machines[key[0]], beliefs[key[0]], shape)
        * (1.0 if key in running else _over(machines[key[0]], beliefs[key[0]], shape))
        for key, shape in shapes.items()
        if shape.seen_s > 0.0
    }


def _over(machine: StateMachine, belief: PowerBelief, shape: RunShape) -> float:
    """Return what the length of a run that is over, and its shape, add."""
    factor = _length(shape.lasted_s, machine.run_short_s, machine.run_long_s)
    if shape.is_whole:
        if shape.seen_s < SHORT_S:
            factor = min(factor, SHORT)
        if was_left(machine, belief.power_w, shape):
            factor = min(factor, STILL)
    return factor


def _length(lasted_s: float, short_s: float, long_s: float) -> float:
    """Return the factor of a run's length, its kind's 10th and 90th percentile given."""
    if lasted_s < FAR_TOO_BRIEF_SHARE * short_s:
        return FAR_TOO_BRIEF
    if lasted_s < short_s:
        return TOO_BRIEF
    if lasted_s > FAR_TOO_LONG_SHARE * long_s:
        return FAR_TOO_LONG
    if lasted_s > TOO_LONG_SHARE * long_s:
        return TOO_LONG
    return 1.0


def _power(machine: StateMachine, belief: PowerBelief, shape: RunShape) -> float:
    """Return the factor of the power at which a run heated."""
    if shape.seen_full_s > 0.0:
        known_w, sd_w, _ = belief.modes[0]
        off_w = abs(shape.seen_full_ws / shape.seen_full_s - known_w)
        if off_w <= max(NEAR_SHARE * known_w, NEAR_SDS * sd_w):
            return 1.0
        if off_w <= max(ALMOST_SHARE * known_w, ALMOST_SDS * sd_w):
            return ALMOST
        return FAR
    if shape.seen_level_s > 0.0:
        # A hob has no power of its own; what heats at full power else did not.
        return FAR if machine.has_full else ANY_LEVEL
    return 1.0
