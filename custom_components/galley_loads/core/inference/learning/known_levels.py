"""The levels at which one appliance was seen to draw.

A knob has steps: whoever turns it to six today gets what six gave yesterday. A level seen
before is likelier than any other, by how often it was seen: a Dirichlet process (D.
Blackwell and J. B. MacQueen, Annals of Statistics 1 (1973) 353), its base law the even one
over the kind's range.
"""

from bisect import bisect_left
from math import exp, inf, log, pi
from typing import Final

NEAR_SHARE: Final = 0.025
"""Judgement, a share of the level: draws that differ by less are one level, as pans and
the boat's voltage vary."""
SPREAD_SHARE: Final = 0.012
"""Judgement, a share of the level: standard deviation of one level's draws."""
FRESH_LEVELS: Final = 8.0
"""Judgement, dwells: so many dwells seen weigh as much as a level never seen (the
process' concentration)."""
MOST_LEVELS: Final = 10
"""Judgement, a number: levels that are remembered of one kind of state."""
MOST_SEEN: Final = 60.0
"""Judgement, dwells: what is remembered of all levels together, so that old habits
fade."""
FAR_SDS: Final = 3.5
"""Judgement, standard deviations: a level further off than this is another one."""
ROOT_TAU: Final = (2.0 * pi) ** 0.5
"""Definition: the root of two pi, which every normal density is divided by."""


type KnownLevelsState = list[tuple[float, float]]
"""What `KnownLevels` saves: levels in W and how often each was seen."""


class KnownLevels:
    """The levels that were seen of one kind of state."""

    __slots__ = ("_fresh", "_means", "_seen", "_unlike", "_weights")

    def __init__(self) -> None:
        """Have seen none."""
        self._seen: list[list[float]] = []
        self._settle()

    def add(self, power_w: float) -> None:
        """See one more dwell at a level."""
        nearest = min(
            self._seen, key=lambda seen: abs(seen[0] - power_w), default=[inf, 0.0]
        )
        if abs(nearest[0] - power_w) <= NEAR_SHARE * power_w:
            nearest[1] += 1.0
            nearest[0] += (power_w - nearest[0]) / nearest[1]
        else:
            if len(self._seen) >= MOST_LEVELS:
                # The newcomer stays, or no level could ever be learnt anew.
                self._seen.remove(min(self._seen, key=lambda seen: seen[1]))
            self._seen.append([power_w, 1.0])
        self._settle()

    def snapshot(self) -> KnownLevelsState:
        """Return the levels and how often each was seen, JSON-able."""
        return [(power_w, count) for power_w, count in self._seen]

    def restore(self, seen: KnownLevelsState) -> None:
        """Take over what `snapshot` gave."""
        self._seen = [list(each) for each in seen]
        self._settle()

    def _settle(self) -> None:
        seen = sorted(self._seen)
        total = sum(count for _, count in seen)
        if total > MOST_SEEN:
            seen = [[mean, count * MOST_SEEN / total] for mean, count in seen]
            total = MOST_SEEN
        self._seen = seen
        self._means = [mean for mean, _ in self._seen]
        self._weights = [count / (FRESH_LEVELS + total) for _, count in self._seen]
        self._fresh = FRESH_LEVELS / (FRESH_LEVELS + total)
        self._unlike = -log(self._fresh)

    def excess(self, power_w: float, variance: float, width_w: float) -> float:
        """Return what a level costs more than one that is anything in its range.

        `variance` is that of the meter, W squared; `width_w` that of the range.
        """
        means = self._means
        number = bisect_left(means, power_w)
        density = 0.0
        for near in (number - 1, number):
            if 0 <= near < len(means):
                mean = means[near]
                off = power_w - mean
                var = variance + (SPREAD_SHARE * mean) ** 2
                if off * off < FAR_SDS * FAR_SDS * var:
                    height = exp(-0.5 * off * off / var) / var**0.5
                    density += self._weights[near] * height
        if density == 0.0:
            return self._unlike
        return -log(self._fresh + density * width_w / ROOT_TAU)
