"""The normal law as a cost: -log of its density, its tails made heavy."""

from typing import Final

LOG_ROOT_TAU: Final = 0.9189385332046727
"""Definition: logarithm of the root of two pi, which every normal density is divided
by."""
TAIL: Final = 3.0
"""Judgement, standard deviations: from here on the cost rises as a straight line."""


def huber(z: float) -> float:
    """Return the cost of a deviation of `z` standard deviations, with a heavy tail."""
    if z < 0.0:
        z = -z
    return 0.5 * z * z if z < TAIL else TAIL * (z - 0.5 * TAIL)
