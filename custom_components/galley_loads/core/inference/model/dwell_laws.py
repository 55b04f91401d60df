"""How long a dwell in one state lasts, and what a run's own dwells say of the next.

A thermostat's cycles and a regulator's pulses are alike within a run, whatever their
length: after a few of them the next is foreseen, equally well by every kind that allows
that length. A hundred like pulses are then no more proof of a kind than three.
"""

from math import log, pi
from typing import Final

WITHIN_RUN_SD: Final = 0.3
"""Judgement, a logarithm: standard deviation of a run's own pulses and pauses."""
MOST_DWELLS: Final = 4
"""Judgement, dwells: how many of a run's last ones are remembered, as a knob may have
been turned since."""
SURE_CYCLES: Final = 3.0
"""Judgement, cycles: what is known beforehand of their number is worth so many."""
SURE_CHOICES: Final = 2.0
"""Judgement, choices: what is known of them beforehand is worth so many."""
MOST_CYCLES: Final = 30
"""Judgement, cycles: further ones change the chances no more."""
LN_81: Final = log(81.0)
"""Definition: (0.9 / 0.1) squared, the odds between the 90th and the 10th
percentile."""
EIGHT_IN_TEN_SDS: Final = 2.5631
"""Definition: standard deviations between the 10th and the 90th percentile of a normal
law."""


def range_law(low_s: float, high_s: float) -> tuple[float, float]:
    """Return scale and shape of the log-logistic law with that range of eight in ten."""
    return (low_s * high_s) ** 0.5, LN_81 / log(high_s / low_s)


def range_sd(low: float, high: float) -> float:
    """Return the standard deviation of the logarithm with that range of eight in ten."""
    return log(high / low) / EIGHT_IN_TEN_SDS


def dwell_laws(low_s: float, high_s: float) -> tuple[tuple[float, float, float], ...]:
    """Return how dwells of one length are foreseen after 0, 1, 2 ... of them in a run.

    `low_s` and `high_s` hold eight in ten dwells over all runs. Most of their spread lies
    between runs, the rest within one: the mean of a normal law with a normal prior
    (A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 2.5). Each entry holds
    the weight of the run's own mean, the shape of the law, and its 90th percentile over
    its median.
    """
    kind_sd = range_sd(low_s, high_s)
    within = min(WITHIN_RUN_SD, kind_sd) ** 2
    between = max(kind_sd * kind_sd - within, 1e-4)
    laws: list[tuple[float, float, float]] = []
    for count in range(MOST_DWELLS + 1):
        weight = count * between / (within + count * between)
        sd = (within + between * within / (within + count * between)) ** 0.5
        shape = pi / (3.0**0.5 * sd)
        laws.append((weight, shape, 9.0 ** (1.0 / shape)))
    return tuple(laws)


def last_chances(off_chance: float) -> tuple[tuple[float, float], ...]:
    """Return, after 0, 1, 2 ... dwells in a run, the chance of its end and the cost of none.

    How many cycles a dish takes is hardly known beforehand: the chance that a cycle is
    the last is itself uncertain (a beta law worth `SURE_CYCLES` cycles), and falls with
    every cycle seen.
    """
    found: list[tuple[float, float]] = []
    for count in range(MOST_CYCLES + 1):
        chance = off_chance * SURE_CYCLES / (SURE_CYCLES + count)
        found.append((chance, -log(max(1.0 - chance, 1e-9))))
    return tuple(found)


def choice_costs(chance: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the costs of one way to go on, by how often in a row it or another was taken.

    `chance` is its share of all ways to go on. What a run did it does again (a Dirichlet
    law worth `SURE_CHOICES` choices); the first costs are those after it was taken, the
    second those after something else was.
    """
    again = tuple(
        -log((SURE_CHOICES * chance + streak) / (SURE_CHOICES + streak))
        for streak in range(MOST_CYCLES + 1)
    )
    instead = tuple(
        -log(SURE_CHOICES * chance / (SURE_CHOICES + streak))
        for streak in range(MOST_CYCLES + 1)
    )
    return again, instead
