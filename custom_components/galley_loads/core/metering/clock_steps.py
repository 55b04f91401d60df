"""Whether the clock that stamps the readings was set back.

A board without a clock battery may start with any time and be set right later. Late
readings come one by one between timely ones; after a clock was set back all of them are
late, and the same sensor speaks again and again with times that rise among themselves.
What sensors last said before they were listened to is old as well, but is told once.
"""

from math import inf
from typing import Final, NamedTuple, TypedDict

from ..phrase import phrase
from .source import Complaint

LATE_S: Final = 120.0
"""A reading this much older than the newest may be one of a clock that was set back."""
TOLD_APART_S: Final = 60.0
"""With the platform's own word, so much of a difference is enough."""
_REPORTS: Final = 3


class ClockSet(NamedTuple):
    """The clock was set: the last time by the old one, the first by the new (Unix s)."""

    from_s: float
    to_s: float

    def complaint(self) -> Complaint:
        """Return what is to be said of it; it belongs to no entity."""
        step_s = self.to_s - self.from_s
        said = (
            phrase("silent.clock_set_ahead", step_s=step_s)
            if step_s > 0
            else phrase("silent.clock_set_back", step_s=-step_s)
        )
        return Complaint("", phrase("sensor.clock"), said, asleep=False)


class ClockStepsState(TypedDict):
    """What `ClockSteps` saves."""

    newest_s: float | None
    seen: dict[str, tuple[float, int]]


class ClockSteps:
    """Counts readings that only a clock which was set back can have stamped."""

    def __init__(self) -> None:
        """Start with a clock in order."""
        self._newest_s = -inf
        self._seen: dict[str, tuple[float, int]] = {}

    def is_set_back(self, entity_id: str, at_s: float, newest_s: float) -> bool:
        """Take a late reading; return whether the clock must have been set back.

        `newest_s` is the newest time that any reading had so far.
        """
        if newest_s - at_s < LATE_S:
            return False
        if newest_s != self._newest_s:
            # A timely reading has come between.
            self._newest_s = newest_s
            self._seen.clear()
        before_s, reports = self._seen.get(entity_id, (-inf, 0))
        reports = reports + 1 if at_s > before_s else 1
        self._seen[entity_id] = (at_s, reports)
        return reports >= _REPORTS

    def snapshot(self) -> ClockStepsState:
        """Return the state as plain data, fit for JSON."""
        return {
            "newest_s": None if self._newest_s == -inf else self._newest_s,
            "seen": dict(self._seen),
        }

    def restore(self, state: ClockStepsState) -> None:
        """Take back what `snapshot` gave."""
        self._newest_s = -inf if state["newest_s"] is None else state["newest_s"]
        self._seen = dict(state["seen"])
