"""Step functions of time: a power that holds until it changes, and its exact integral."""

from array import array
from bisect import bisect_right
from collections.abc import Callable, Iterable


class Steps:
    """A power over time, W against Unix seconds, constant between its changes.

    Before the first change it is zero. Changes are added in order of time.
    """

    __slots__ = ("at_s", "joules", "power_w")

    def __init__(self, start_s: float, power_w: float = 0.0) -> None:
        """Begin at `start_s` with `power_w`."""
        self.at_s = array("d", [start_s])
        self.power_w = array("d", [power_w])
        self.joules = array("d", [0.0])

    def change(self, at_s: float, power_w: float) -> None:
        """Let the power be `power_w` from `at_s` on."""
        last_s, last_w = self.at_s[-1], self.power_w[-1]
        if power_w == last_w:
            return
        if at_s <= last_s:
            self.power_w[-1] = power_w
            return
        self.joules.append(self.joules[-1] + (at_s - last_s) * last_w)
        self.at_s.append(at_s)
        self.power_w.append(power_w)

    def value(self, at_s: float) -> float:
        """Return the power at one moment, W."""
        index = bisect_right(self.at_s, at_s) - 1
        return self.power_w[index] if index >= 0 else 0.0

    def integral_j(self, at_s: float) -> float:
        """Return the energy from the beginning until `at_s`, J."""
        index = bisect_right(self.at_s, at_s) - 1
        if index < 0:
            return 0.0
        return self.joules[index] + (at_s - self.at_s[index]) * self.power_w[index]

    def mean(self, from_s: float, to_s: float) -> float:
        """Return the mean power over a span, W."""
        if to_s <= from_s:
            return self.value(to_s)
        return (self.integral_j(to_s) - self.integral_j(from_s)) / (to_s - from_s)


def from_events(start_s: float, events: Iterable[tuple[float, float]]) -> Steps:
    """Return the sum of power changes `(at_s, change_w)`, given in any order."""
    steps = Steps(start_s)
    total = 0.0
    for at_s, change_w in sorted(events):
        total += change_w
        steps.change(at_s, total if abs(total) > 1e-9 else 0.0)
    return steps


def combined(
    first: Steps, second: Steps, function: Callable[[float, float], float]
) -> Steps:
    """Return `function(first, second)` over time; both begin at the same moment."""
    a, b = 0, 0
    result = Steps(first.at_s[0], function(first.power_w[0], second.power_w[0]))
    while True:
        next_a = first.at_s[a + 1] if a + 1 < len(first.at_s) else float("inf")
        next_b = second.at_s[b + 1] if b + 1 < len(second.at_s) else float("inf")
        at_s = min(next_a, next_b)
        if at_s == float("inf"):
            return result
        a += next_a == at_s
        b += next_b == at_s
        result.change(at_s, function(first.power_w[a], second.power_w[b]))
