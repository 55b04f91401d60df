"""Hours in which nobody wants to be woken, in boat time."""

from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class QuietHours:
    """From `start` to `end` by the boat's clock, over midnight if start is later.

    Equal times mean none at all.
    """

    start: time
    end: time

    def hold(self, at_s: float, time_zone: ZoneInfo) -> bool:
        """Return whether `at_s` (Unix seconds) lies within the quiet hours."""
        clock = datetime.fromtimestamp(at_s, time_zone).time()
        if self.start <= self.end:
            return self.start <= clock < self.end
        return clock >= self.start or clock < self.end
