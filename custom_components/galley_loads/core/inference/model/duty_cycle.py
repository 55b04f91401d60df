"""The duty cycle of a regulator: a pot that simmers needs a tenth, a plate half.

The lengths of pulses and pauses are foreseen each by itself (`dwell_laws.py`), so that a
plate's pulses and a pot's may pass for one another. What they make together says more:
the share of the power that holds a heat hardly depends on the regulator's period. It is
weighed once in a run, when three cycles are known.
"""

from math import log
from typing import Final, NamedTuple

from .dwell_laws import WITHIN_RUN_SD, range_sd

CYCLES: Final = 3
"""Judgement, cycles: after how many the duty cycle of a run is weighed."""
MOST: Final = 5.0
"""Judgement, a cost: no duty cycle is proof against a kind: this at most."""


class DutyCycleLaw(NamedTuple):
    """Normal laws of log(pulse / pause): of the kind's duty cycles, and of its dwells alone."""

    middle: float
    sd: float
    plain_middle: float
    plain_sd: float

    def cost(self, ratio: float) -> float:
        """Return -log of how much likelier the kind shows that ratio than its dwells say."""
        z = (ratio - self.middle) / self.sd
        plain = (ratio - self.plain_middle) / self.plain_sd
        cost = 0.5 * (z * z - plain * plain) + log(self.sd / self.plain_sd)
        return min(max(cost, -MOST), MOST)


def duty_cycle_law(
    share: tuple[float, float],
    pulse_s: tuple[float, float],
    pause_s: tuple[float, float],
) -> DutyCycleLaw:
    """Return the law of pulses and the pauses between them.

    All ranges hold eight in ten: of the pulses' duty cycle, and of either dwell.
    """
    low, high = (part / (1.0 - part) for part in share)
    within = 2.0 * WITHIN_RUN_SD**2 / CYCLES
    return DutyCycleLaw(
        0.5 * log(low * high),
        (range_sd(low, high) ** 2 + within) ** 0.5,
        0.5 * log(pulse_s[0] * pulse_s[1] / (pause_s[0] * pause_s[1])),
        (range_sd(*pulse_s) ** 2 + range_sd(*pause_s) ** 2) ** 0.5,
    )
