"""How restless the boat is anyway: learnt while a circuit's relay is open.

What swings then is not on that circuit, whatever it is: a fridge that starts every minute, a
pump with a leak. Only more of it than that is held against the circuit afterwards.
"""

from typing import Final, TypedDict

LEAST: Final = 3
"""Two bursts of a pump within ten minutes are nothing."""
MOST: Final = 8
"""More swings than this are never taken for the boat's habit: better no cut than a wrong one."""
_SHARE: Final = 0.05
_NEEDED_S: Final = 6 * 3600.0
_FADE_S: Final = 7 * 86400.0
_LONGEST_S: Final = 60.0


class RestlessHabitState(TypedDict):
    """What `RestlessHabit` saves."""

    seconds: list[float]


class RestlessHabit:
    """For how long how many swings were seen within the time in which they count together."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self._seconds = [0.0] * (MOST + 1)

    def observe(self, swings: int, seconds: float) -> None:
        """Take a number of swings that stood for some seconds while the relay was open."""
        self._seconds[min(swings, MOST)] += min(seconds, _LONGEST_S)
        if sum(self._seconds) > _FADE_S:
            self._seconds = [held_s / 2.0 for held_s in self._seconds]

    @property
    def enough(self) -> int:
        """The number of swings that the boat seldom shows by itself, one time in twenty."""
        total_s = sum(self._seconds)
        if total_s < _NEEDED_S:
            return LEAST
        for number in range(LEAST, MOST):
            if sum(self._seconds[number:]) <= _SHARE * total_s:
                return number
        return MOST

    def snapshot(self) -> RestlessHabitState:
        """Return the state as JSON-able data."""
        return {"seconds": list(self._seconds)}

    def restore(self, state: RestlessHabitState) -> None:
        """Take up a state from `snapshot`."""
        self._seconds = list(state["seconds"])
