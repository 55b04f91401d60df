"""Which way a meter counts whose power can flow one way only.

What such a meter tells below zero counts as nothing, so one that counts backwards is silent
about everything. A *spell* is a large draw of either sign, as when something is switched on.
"""

from dataclasses import dataclass, field
from math import nextafter
from typing import Final

from ..phrase import Phrase, phrase
from .tally import Leaning, Tally, Votes

LARGE_W: Final = 100.0
"""Less than this below zero is an offset of the meter."""

LEAST_SPELLS: Final = 5.0
SPELLS_KEPT: Final = 20.0

_ALMOST_LARGE_W: Final = nextafter(LARGE_W, 0.0)
_ENDS_SHARE: Final = 0.5

type DirectionState = tuple[Votes, float, float]
"""What a `Direction` saves: votes, the lowest value and that of the spell."""


@dataclass(slots=True)
class Direction:
    """Spells above and below zero; `lowest_w` is the lowest that was told.

    A value between `least_w` and `most_w` says nothing new and need not be seen: nearly
    all do, and there are some millions of them.
    """

    spells: Tally = field(default_factory=lambda: Tally(SPELLS_KEPT))
    lowest_w: float = 0.0
    _extreme_w: float = 0.0
    least_w: float = field(init=False)
    most_w: float = field(init=False)

    def __post_init__(self) -> None:
        """Know what says something new."""
        self._set_bounds()

    def see(self, power_w: float) -> None:
        """Take a new value of the meter."""
        extreme_w = self._extreme_w
        if extreme_w != 0.0:
            if power_w / extreme_w > 1.0:
                self._extreme_w = power_w
                self.lowest_w = min(self.lowest_w, power_w)
            elif power_w / extreme_w < _ENDS_SHARE:
                self._extreme_w = 0.0
        elif abs(power_w) >= LARGE_W:
            self._extreme_w = power_w
            self.lowest_w = min(self.lowest_w, power_w)
            self.spells.note(power_w > 0.0)
        self._set_bounds()

    def _set_bounds(self) -> None:
        extreme_w = self._extreme_w
        if extreme_w == 0.0:
            self.least_w, self.most_w = -_ALMOST_LARGE_W, _ALMOST_LARGE_W
        else:
            self.least_w, self.most_w = sorted((_ENDS_SHARE * extreme_w, extreme_w))

    @property
    def is_backwards(self) -> bool:
        """Whether the meter counts below zero what flows."""
        return self.spells.leaning(LEAST_SPELLS) is Leaning.WRONG

    @property
    def counts_right(self) -> bool:
        """Whether most of what the meter has shown was above zero, as it should be."""
        return self.spells.right > self.spells.wrong

    def evidence(self) -> Phrase:
        """Return what speaks for counting backwards."""
        wrong, right = round(self.spells.wrong), round(self.spells.right)
        return phrase(
            "sign.below_zero", wrong=wrong, times=wrong + right, lowest_w=self.lowest_w
        )

    def snapshot(self) -> DirectionState:
        """Return the state as plain data."""
        return self.spells.snapshot(), self.lowest_w, self._extreme_w

    def restore(self, state: DirectionState) -> None:
        """Take back what `snapshot` gave."""
        votes, self.lowest_w, self._extreme_w = state
        self.spells.restore(votes)
        self._set_bounds()
