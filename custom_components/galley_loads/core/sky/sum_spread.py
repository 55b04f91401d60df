"""Keeps the range of a day's sum honest, as `sky_spread` does that of a quarter hour.

What a bank gets is the sum of a day, and that is not right because its quarter hours are.
With every forecast put aside goes the range of the mean clear-sky index of what is left of
today and of tomorrow; once that day is over it is held against what came, and the family
is drawn further out, or in, where more or fewer than a tenth fall outside on a side.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp
from typing import Final, TypedDict

_TAIL: Final = 0.1
_RATE: Final = 0.05
_AT_FIRST: Final = 1.25
_RANGE: Final = (0.6, 3.0)
_LEAST_SEEN: Final = 0.85
_LEAST_W: Final = 1.0
SPANS: Final = 2
"""What is left of today, and the day after the night."""


@dataclass(frozen=True, slots=True)
class SumSpread:
    """Factors on the distance of a member's mean from the middle one, by span."""

    below: tuple[float, ...] = (1.0,) * SPANS
    above: tuple[float, ...] = (1.0,) * SPANS


NO_SUM_SPREAD: Final = SumSpread()


@dataclass(slots=True)
class _Told:
    """One range put aside: its quarter hours by weight, and what was seen of them."""

    span: int
    weights: dict[int, float]
    low: float
    high: float
    last: int
    seen: float = 0.0
    total: float = 0.0


type _Row = tuple[int, list[tuple[int, float]], float, float, float, float]


class SumSpreadState(TypedDict):
    """What `SumSpreadKeeper` saves."""

    below: list[float]
    above: list[float]
    told: list[_Row]


class SumSpreadKeeper:
    """Learns the factors from sums that came true."""

    def __init__(self) -> None:
        """Start a little wide."""
        self._below = [_AT_FIRST] * SPANS
        self._above = [_AT_FIRST] * SPANS
        self._told: list[_Told] = []

    @property
    def spread(self) -> SumSpread:
        """The factors as they stand."""
        return SumSpread(tuple(self._below), tuple(self._above))

    def issue(
        self, span: int, weights: Mapping[int, float], low: float, high: float
    ) -> None:
        """Put a range of the weighted mean index aside.

        Args:
            span: 0 for the rest of today, 1 for the next day.
            weights: clear-sky power by number of the quarter hour, all above 0.
            low: the 10 % value of the mean index.
            high: the 90 % value.
        """
        rounded = {
            quarter: round(weight, 1)
            for quarter, weight in weights.items()
            if weight >= _LEAST_W
        }
        if not rounded:
            return
        self._told.append(
            _Told(span, rounded, round(low, 4), round(high, 4), max(rounded))
        )

    def observe(self, quarter: int, index: float) -> None:
        """Take the index of a quarter hour that was not held back; in order of time."""
        still: list[_Told] = []
        for told in self._told:
            weight = told.weights.get(quarter)
            if weight is not None:
                told.seen += weight
                told.total += weight * index
            if quarter < told.last:
                still.append(told)
            else:
                self._judge(told)
        self._told = still

    def _judge(self, told: _Told) -> None:
        if told.seen < _LEAST_SEEN * sum(told.weights.values()):
            return
        mean = told.total / told.seen
        self._move(self._below, told.span, mean < told.low)
        self._move(self._above, told.span, mean > told.high)

    @staticmethod
    def _move(factors: list[float], span: int, missed: bool) -> None:
        moved = factors[span] * exp(_RATE * (float(missed) - _TAIL))
        factors[span] = min(max(moved, _RANGE[0]), _RANGE[1])

    def snapshot(self) -> SumSpreadState:
        """Return the state, JSON-able."""
        return {
            "below": list(self._below),
            "above": list(self._above),
            "told": [
                (t.span, list(t.weights.items()), t.low, t.high, t.seen, t.total)
                for t in self._told
            ],
        }

    def restore(self, state: SumSpreadState) -> None:
        """Take a state that `snapshot` gave."""
        self._below = list(state["below"])
        self._above = list(state["above"])
        self._told = [
            _Told(
                span,
                dict(weights),
                low,
                high,
                max(quarter for quarter, _ in weights),
                seen,
                total,
            )
            for span, weights, low, high, seen, total in state["told"]
        ]


def span_steps(nights: Sequence[int], clear_w: Sequence[float]) -> list[list[int]]:
    """Return for each span the places of its steps with sun, by nights before them."""
    return [
        [
            i
            for i, (n, w) in enumerate(zip(nights, clear_w, strict=True))
            if n == span and w > 0.0
        ]
        for span in range(SPANS)
    ]


def weighted_mean(
    values: Sequence[float], weights: Sequence[float], places: Sequence[int]
) -> float:
    """Return the mean of the values at some places, weighted."""
    total = sum(weights[i] for i in places)
    return sum(values[i] * weights[i] for i in places) / total
