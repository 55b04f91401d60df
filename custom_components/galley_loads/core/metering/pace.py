"""How often a sensor speaks, learnt from when it did."""

from typing import Final

USUAL_PERIOD_S: Final = 5.0
LONGEST_PERIOD_S: Final = 10.0
LONGEST_WAIT_S: Final = 12.0

_SHORTEST_S: Final = 0.3
_LONGEST_COUNTED_S: Final = 30.0
_REMEMBERED: Final = 32
_LOOKED_AT_EVERY: Final = 8

type PaceState = tuple[float | None, float, int, list[float]]
"""What a `Pace` saves: last report, period, reports until the next look, intervals."""


class Pace:
    """The sampling period of one sensor that reports only changes.

    Most intervals between changes are one period long, some are several: the lower
    quartile of the last ones is the period.
    """

    __slots__ = ("_intervals_s", "_until_look", "last_s", "period_s")

    def __init__(self) -> None:
        """Start with a usual period until enough was heard."""
        self.last_s: float | None = None
        self.period_s = USUAL_PERIOD_S
        self._intervals_s: list[float] = []
        self._until_look = _LOOKED_AT_EVERY

    @property
    def wait_s(self) -> float:
        """How long to wait until a sensor that has not spoken has nothing to say."""
        return min(LONGEST_WAIT_S, 1.3 * self.period_s + 0.3)

    def tick(self, at_s: float) -> None:
        """Note that the sensor spoke."""
        last_s, self.last_s = self.last_s, at_s
        if last_s is None or not _SHORTEST_S <= at_s - last_s <= _LONGEST_COUNTED_S:
            return
        self._intervals_s.append(at_s - last_s)
        self._until_look -= 1
        if self._until_look:
            return
        self._until_look = _LOOKED_AT_EVERY
        del self._intervals_s[:-_REMEMBERED]
        ordered = sorted(self._intervals_s)
        self.period_s = min(LONGEST_PERIOD_S, ordered[len(ordered) // 4])

    def snapshot(self) -> PaceState:
        """Return the state as plain data."""
        return self.last_s, self.period_s, self._until_look, list(self._intervals_s)

    def restore(self, state: PaceState) -> None:
        """Take back what `snapshot` gave."""
        self.last_s, self.period_s, self._until_look, intervals_s = state
        self._intervals_s = list(intervals_s)
