"""Votes for and against a sign, the newest of which count most."""

from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

MOST_AGAINST: Final = 0.25
"""Against what speaks for one sign, at most this share may speak for the other."""

RIGHT_SHARE: Final = 0.5
"""A sign is held for right on half of what is asked for holding it for wrong."""

type Votes = tuple[float, float]
"""What a `Tally` saves: the votes for and against."""


class Leaning(Enum):
    """What a tally makes of a sign; `OPEN` is too little, or for and against alike."""

    RIGHT = auto()
    WRONG = auto()
    OPEN = auto()


@dataclass(slots=True)
class Tally:
    """What spoke for a right and for a wrong sign.

    `most` bounds the sum: what is older fades as new votes come, so that a sign that was
    mended, or spoilt, is seen to be so.
    """

    most: float
    right: float = 0.0
    wrong: float = 0.0

    def note(self, right: bool, weight: float = 1.0) -> None:
        """Add a vote."""
        if right:
            self.right += weight
        else:
            self.wrong += weight
        total = self.right + self.wrong
        if total > self.most:
            self.right *= self.most / total
            self.wrong *= self.most / total

    def leaning(self, least: float, most_against: float = MOST_AGAINST) -> Leaning:
        """Return what to make of the votes.

        To call a sign wrong, `least` are needed, and at most a share of `most_against`
        of them may say the opposite.
        """
        if self.wrong >= least and self.right <= most_against * self.wrong:
            return Leaning.WRONG
        if (
            self.right >= RIGHT_SHARE * least
            and self.wrong <= MOST_AGAINST * self.right
        ):
            return Leaning.RIGHT
        return Leaning.OPEN

    def snapshot(self) -> Votes:
        """Return the votes as plain data."""
        return self.right, self.wrong

    def restore(self, state: Votes) -> None:
        """Take back what `snapshot` gave."""
        self.right, self.wrong = state
