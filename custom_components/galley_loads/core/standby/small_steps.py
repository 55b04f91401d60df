"""Small lasting steps of the load, as an appliance makes when it goes on standby.

The load rests on a plateau; when it leaves it and stays away for some seconds, the step
is the difference between the two levels. A spike (a motor's start) is no step.
"""

from dataclasses import dataclass
from typing import Final, TypedDict

_HOLD_S: Final = 10.0
_MEMORY: Final = 30
_TOLERANCE_LEAST_W: Final = 2.0


@dataclass(frozen=True, slots=True)
class LoadStep:
    """The load went from one level to another; `delta_w` is positive on the way up."""

    at_s: float
    delta_w: float


class StepWatchState(TypedDict):
    """What `StepWatch` saves."""

    level_w: float | None
    level_n: int
    next_w: float
    next_n: int
    next_s: float


class StepWatch:
    """Tells the lasting steps of one series of loads."""

    __slots__ = ("_level_n", "_level_w", "_next_n", "_next_s", "_next_w")

    def __init__(self) -> None:
        """Start without a level."""
        self._level_w: float | None = None
        self._level_n = 0
        self._next_w = 0.0
        self._next_n = 0
        self._next_s = 0.0

    def observe(
        self, at_s: float, load_w: float | None, floor_w: float
    ) -> LoadStep | None:
        """Take a load that holds from `at_s`; return the step that it confirms, if any.

        `floor_w` is what the meter resolves. A missing load forgets the level: what
        happened across a gap is nobody's step.
        """
        if load_w is None:
            self._level_w = None
            self._next_n = 0
            return None
        if self._level_w is None:
            self._level_w, self._level_n, self._next_n = load_w, 1, 0
            return None
        tolerance_w = max(1.5 * floor_w, _TOLERANCE_LEAST_W)
        step: LoadStep | None = None
        if self._next_n and at_s - self._next_s >= _HOLD_S:
            # The new level held from its first sample up to this one.
            step = LoadStep(self._next_s, self._next_w - self._level_w)
            self._level_w, self._level_n = self._next_w, self._next_n
            self._next_n = 0
        off_w = load_w - self._level_w
        if -tolerance_w <= off_w <= tolerance_w:
            if self._level_n < _MEMORY:
                self._level_n += 1
            self._level_w += off_w / self._level_n
            self._next_n = 0
        elif self._next_n and abs(load_w - self._next_w) <= tolerance_w:
            self._next_n = min(self._next_n + 1, _MEMORY)
            self._next_w += (load_w - self._next_w) / self._next_n
        else:
            self._next_w, self._next_n, self._next_s = load_w, 1, at_s
        return step

    def snapshot(self) -> StepWatchState:
        """Return the state as JSON-able data."""
        return {
            "level_w": self._level_w,
            "level_n": self._level_n,
            "next_w": self._next_w,
            "next_n": self._next_n,
            "next_s": self._next_s,
        }

    def restore(self, state: StepWatchState) -> None:
        """Take up a state from `snapshot`."""
        self._level_w = state["level_w"]
        self._level_n = state["level_n"]
        self._next_w = state["next_w"]
        self._next_n = state["next_n"]
        self._next_s = state["next_s"]
