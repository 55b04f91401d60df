"""The mean draw of what pulses, over its own cycle.

A water bath that holds its temperature draws 865 W for some seconds a minute. Nobody who
looks now and then learns anything from whether it is just on: what it takes is the mean.
"""

from typing import Final

LONGEST_CYCLE_S: Final = 90.0
"""Judgement, s: what comes and goes more slowly is shown as it draws."""
OVERDUE: Final = 1.5
"""Judgement, a factor: a pulse so late, in cycles, ends the cycling."""
LOW_SHARE: Final = 0.35
"""Judgement, a share: what draws less than that of a pulse rests between two."""
LEAST_PULSE_W: Final = 50.0
"""Judgement, W: a smaller step is no pulse."""
SAME_W: Final = 1.0
"""Judgement, W: draws that differ by less are one."""

type Change = tuple[float, float]
"""Since when, Unix time, what is drawn, W."""


class CycleMean:
    """Follows one run's draw; the mean comes once two pulses have begun."""

    __slots__ = ("_changes",)

    def __init__(self, changes: list[Change] | None = None) -> None:
        """Start without a past, or with that of `changes`."""
        self._changes = changes or []

    @property
    def changes(self) -> list[Change]:
        """The draws of the last cycles, in order of time."""
        return list(self._changes)

    def observe(self, at_s: float, power_w: float) -> None:
        """Take what is drawn from a time on."""
        changes = self._changes
        if changes and abs(changes[-1][1] - power_w) < SAME_W:
            return
        # A second look at the same moment corrects the first; time never goes back here.
        while changes and changes[-1][0] >= at_s:
            del changes[-1]
        changes.append((at_s, power_w))
        oldest_s = at_s - 2.0 * LONGEST_CYCLE_S
        while len(changes) > 2 and changes[1][0] < oldest_s:
            del changes[0]

    def mean_w(self, at_s: float) -> float | None:
        """Return the mean over whole cycles, W; None if it does not pulse by now."""
        changes = self._changes
        rises = [
            number
            for number in range(1, len(changes))
            if changes[number][1] > changes[number - 1][1] + LEAST_PULSE_W
            and changes[number - 1][1] < LOW_SHARE * changes[number][1]
        ]
        if len(rises) < 2:
            return None
        first, before, last = rises[0], rises[-2], rises[-1]
        cycle_s = changes[last][0] - changes[before][0]
        if cycle_s > LONGEST_CYCLE_S or at_s - changes[last][0] > OVERDUE * cycle_s:
            return None
        energy_ws = sum(
            changes[number][1] * (changes[number + 1][0] - changes[number][0])
            for number in range(first, last)
        )
        return energy_ws / (changes[last][0] - changes[first][0])
