"""What use has taught about an appliance's powers.

The rating on the plate is right to a tenth. Confident, complete runs give their own full
power; the densest cluster of them near the rating is believed, and 15 % of the belief
always stays at the rating: the way back when a wrong run got in. A hob's levels are
learnt too, see `known_levels.py`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import log
from typing import Final, TypedDict

from .known_levels import KnownLevels, KnownLevelsState

RATING_SD: Final = 0.05
"""Judgement, a share of the rating: standard deviation of full powers around it."""
RATING_BELIEF: Final = 0.15
"""Judgement, a chance: what stays with the rating once runs taught another power."""
NEAR_RATING: Final = 0.2
"""Judgement, a share of the rating: a power further off teaches nothing."""
KEPT_RUNS: Final = 40
"""Judgement, runs: how many of the last ones are remembered."""
CLUSTER_WIDTH: Final = 0.02
"""Judgement, a share of the rating: half the width of a cluster of powers."""
LEAST_RUNS: Final = 2
"""Judgement, runs: fewer than this in a cluster teach nothing."""
TAKEN_SD: Final = 0.012
"""Judgement, a share of the power: standard deviation around a signature's power."""
TAKEN_DOUBT: Final = 0.03
"""Judgement, a chance: what stays with the rating beside a signature."""


@dataclass(frozen=True, slots=True)
class LearnedPower:
    """Powers of one appliance as learnt from use, W; `runs` is how many runs taught it."""

    rated_w: float
    standby_w: float | None
    runs: int


class PowerBeliefState(TypedDict):
    """What `PowerBelief` saves."""

    powers: list[float]
    levels: list[tuple[int, KnownLevelsState]]


class PowerBelief:
    """Belief about the full power of one appliance, and about the levels of its knob.

    `modes` are (power in W, standard deviation in W, cost of choosing this mode). `levels`
    holds what was seen of each slot that remembers a level, of those given.
    """

    __slots__ = ("_powers", "_rated_w", "_taken_w", "levels", "modes")

    def __init__(self, rated_w: float, level_slots: Iterable[int] = ()) -> None:
        """Start with the rating alone."""
        self.levels = {slot: KnownLevels() for slot in level_slots}
        self._rated_w = rated_w
        self._powers: list[float] = []
        self._taken_w: float | None = None
        self.modes: tuple[tuple[float, float, float], ...] = ()
        self._settle()

    @property
    def power_w(self) -> float:
        """Most believed full power."""
        return self.modes[0][0]

    @property
    def runs(self) -> int:
        """How many runs the belief rests on."""
        return len(self._powers)

    def add(self, power_w: float) -> None:
        """Take the full power of one more confident, complete run."""
        if abs(power_w / self._rated_w - 1.0) > NEAR_RATING:
            return
        self._powers.append(power_w)
        del self._powers[:-KEPT_RUNS]
        self._settle()

    def take(self, power_w: float | None) -> None:
        """Take the full power of a signature, which goes before all else; None forgets it."""
        self._taken_w = power_w
        self._settle()

    def forget(self) -> None:
        """Go back to the rating."""
        self._powers.clear()
        self._taken_w = None
        for slot in self.levels:
            self.levels[slot] = KnownLevels()
        self._settle()

    def _settle(self) -> None:
        rated = self._rated_w
        plain = (rated, RATING_SD * rated)
        if self._taken_w is not None:
            sure = (self._taken_w, TAKEN_SD * self._taken_w, -log(1.0 - TAKEN_DOUBT))
            self.modes = (sure, (*plain, -log(TAKEN_DOUBT)))
            return
        cluster = self._densest()
        if len(cluster) < LEAST_RUNS:
            self.modes = ((*plain, 0.0),)
            return
        mean = sum(cluster) / len(cluster)
        spread = (sum((p - mean) ** 2 for p in cluster) / len(cluster)) ** 0.5
        sd = max(spread, 0.006 * rated) + 0.02 * rated / len(cluster)
        # The more runs agree, the less is left for the rating.
        doubt = RATING_BELIEF * max(0.25, min(1.0, 3.0 / len(cluster)))
        self.modes = (
            (mean, sd, -log(1.0 - doubt)),
            (*plain, -log(doubt)),
        )

    def _densest(self) -> list[float]:
        """Return the largest group of powers that lie within 4 % of each other."""
        powers = sorted(self._powers)
        width = 2.0 * CLUSTER_WIDTH * self._rated_w
        best: list[float] = []
        first = 0
        for last, power in enumerate(powers):
            while power - powers[first] > width:
                first += 1
            if last - first + 1 > len(best):
                best = powers[first : last + 1]
        return best

    def snapshot(self) -> PowerBeliefState:
        """Return all that was learnt, JSON-able."""
        return {
            "powers": list(self._powers),
            "levels": [(slot, known.snapshot()) for slot, known in self.levels.items()],
        }

    def restore(self, state: PowerBeliefState) -> None:
        """Take over what `snapshot` gave."""
        self._powers = list(state["powers"])
        for slot, seen in state["levels"]:
            if slot in self.levels:
                self.levels[slot].restore(seen)
        self._settle()
