"""Where the boat's load lies when nobody cooks.

A slowly fading histogram of the resting load over settled time. An explanation whose
resting load lies outside of the usual range pays for it as long as it lasts: nothing is
ever declared "all off" for long while the load stands above its resting level.
"""

from collections.abc import Mapping
from typing import Any, Final

IMPOSSIBLE_W: Final = -25.0
"""A resting load below this is no load: something was charged to an appliance wrongly."""
BIN_W: Final = 10.0
BINS: Final = 400
MEMORY_S: Final = 3.0 * 86400.0
FIRST_SPAN_W: Final = 150.0


class RestingLevel:
    """Range of the resting load, learnt from the boat itself."""

    __slots__ = ("_seconds", "_total_s", "high_w", "low_w", "width_w")

    def __init__(self) -> None:
        """Know nothing yet."""
        self._seconds: dict[int, float] = {}
        self._total_s = 0.0
        self.low_w: float | None = None
        self.high_w = 0.0
        self.width_w = 60.0

    def usual(self, level_w: float) -> float:
        """Return the resting load to start from when the load is at a level.

        The first level ever seen is the start where nothing else is known.
        """
        low = self.low_w
        if low is None:
            low = self.low_w = min(level_w, 200.0) - FIRST_SPAN_W
            self.high_w = min(level_w, 600.0) + FIRST_SPAN_W
        return min(max(level_w, low), self.high_w)

    def add(self, level_w: float, seconds: float) -> None:
        """Take a settled stretch of resting load."""
        index = int(level_w // BIN_W)
        self._seconds[index] = self._seconds.get(index, 0.0) + seconds
        self._total_s += seconds

    def settle(self) -> None:
        """Work out the range anew and let old days fade."""
        if self._total_s < 1800.0:
            return
        if self._total_s > MEMORY_S:
            share = MEMORY_S / self._total_s
            self._seconds = {
                index: seconds * share
                for index, seconds in self._seconds.items()
                if seconds * share > 1.0
            }
            self._total_s = sum(self._seconds.values())
        self.low_w = self._quantile(0.01)
        self.high_w = self._quantile(0.99) + BIN_W
        self.width_w = max(40.0, 0.3 * (self.high_w - self.low_w))
        if self._total_s < 6.0 * 3600.0:
            self.low_w -= 0.5 * FIRST_SPAN_W
            self.high_w += 0.5 * FIRST_SPAN_W

    def excess(self, level_w: float) -> float:
        """Return how many widths a level lies outside of the range, 0 to 6."""
        low = self.low_w
        if low is None:
            return 0.0
        if level_w < IMPOSSIBLE_W:
            return 8.0
        if level_w > self.high_w:
            return min(6.0, (level_w - self.high_w) / self.width_w)
        if level_w < low:
            return min(6.0, (low - level_w) / self.width_w)
        return 0.0

    def _quantile(self, share: float) -> float:
        wanted = share * self._total_s
        seen = 0.0
        for index in sorted(self._seconds):
            seen += self._seconds[index]
            if seen >= wanted:
                return index * BIN_W
        return 0.0

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state, JSON-able."""
        return {
            "seconds": [[i, s] for i, s in self._seconds.items()],
            "total_s": self._total_s,
            "low_w": self.low_w,
            "high_w": self.high_w,
            "width_w": self.width_w,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take over what `snapshot` gave."""
        self._seconds = {int(i): float(s) for i, s in state["seconds"]}
        self._total_s = state["total_s"]
        self.low_w = state["low_w"]
        self.high_w = state["high_w"]
        self.width_w = state["width_w"]
