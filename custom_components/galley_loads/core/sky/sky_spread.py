"""Keeps the range honest: widens or narrows it by how often the sun fell outside.

Every few hours the 10 and 90 % values for the day ahead are put aside; each quarter hour
that comes true is held against them. Where more than a tenth falls below (above), the
lower (upper) half of the family is drawn further out, for near, middle and far hours
apart. So the range is right on this boat, whatever its weather is like (the idea of
adaptive conformal inference: Gibbs and Candes, NeurIPS 2021).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import Final, TypedDict

from .sum_spread import NO_SUM_SPREAD, SumSpread

ISSUE_EVERY_QUARTERS: Final = 12
LOOK_QUARTERS: Final = 96
_LEAD_EDGES: Final = (12, 48)
_TAIL: Final = 0.1
_RATE: Final = 0.012
_AT_FIRST: Final = 1.35
_RANGE: Final = (0.5, 3.0)


def lead_class(quarters_ahead: int) -> int:
    """Return 0 for the next three hours, 1 to twelve hours, 2 beyond."""
    return sum(quarters_ahead >= edge for edge in _LEAD_EDGES)


@dataclass(frozen=True, slots=True)
class Spread:
    """Factors on the distance from the family's middle, below and above, by lead class.

    `sums` does the same for the sums of days.
    """

    below: tuple[float, ...]
    above: tuple[float, ...]
    sums: SumSpread = NO_SUM_SPREAD


AS_IS: Final = Spread((1.0,) * 3, (1.0,) * 3)


class SpreadKeeperState(TypedDict):
    """What `SpreadKeeper` saves."""

    below: list[float]
    above: list[float]
    issues: list[tuple[int, list[float], list[float]]]


class SpreadKeeper:
    """Learns the factors from forecasts that came true."""

    def __init__(self) -> None:
        """Start a little wide: a young family has seen little."""
        self._below = [_AT_FIRST] * len(AS_IS.below)
        self._above = [_AT_FIRST] * len(AS_IS.above)
        # Each: first quarter hour, and 10 and 90 % values from there on in clear-sky index.
        self._issues: list[tuple[int, list[float], list[float]]] = []

    @property
    def spread(self) -> Spread:
        """The factors as they stand."""
        return Spread(tuple(self._below), tuple(self._above))

    def issue(self, first: int, low: Sequence[float], high: Sequence[float]) -> None:
        """Put a forecast aside that begins with quarter hour `first`."""
        self._issues = [i for i in self._issues if i[0] + len(i[1]) > first]
        self._issues.append(
            (first, [round(v, 3) for v in low], [round(v, 3) for v in high])
        )

    def observe(self, quarter: int, clear_sky_index: float) -> None:
        """Hold a quarter hour that came true against what was put aside for it."""
        for first, low, high in self._issues:
            ahead = quarter - first
            if not 0 <= ahead < len(low):
                continue
            which = lead_class(ahead)
            self._move(self._below, which, clear_sky_index < low[ahead])
            self._move(self._above, which, clear_sky_index > high[ahead])

    @staticmethod
    def _move(factors: list[float], which: int, missed: bool) -> None:
        moved = factors[which] * exp(_RATE * (float(missed) - _TAIL))
        factors[which] = min(max(moved, _RANGE[0]), _RANGE[1])

    def snapshot(self) -> SpreadKeeperState:
        """Return the state, JSON-able."""
        return {
            "below": list(self._below),
            "above": list(self._above),
            "issues": [(f, list(low), list(high)) for f, low, high in self._issues],
        }

    def restore(self, state: SpreadKeeperState) -> None:
        """Take a state that `snapshot` gave."""
        self._below = list(state["below"])
        self._above = list(state["above"])
        self._issues = [(f, list(low), list(high)) for f, low, high in state["issues"]]
