"""Where the boat's load lies when nobody cooks.

Two slowly fading histograms. The one of the whole load gives the floor: the base load
is never below what the boat draws in its quietest hours, whatever a hypothesis says.
The one of the base load while nothing ran gives the ceiling. A hypothesis whose
base load lies outside pays for it as long as it lasts: nothing is ever declared "all
off" for long while the load stands above what it usually is.
"""

from typing import Final, TypedDict

from .base_load_steps import BaseLoadSteps, BaseLoadStepsState

BIN_W: Final = 5.0
"""Judgement, W: width of a bin of the histograms."""
MEMORY_S: Final = 3.0 * 86400.0
"""Judgement, s: time after which what was seen fades."""
FIRST_SPAN_W: Final = 120.0
"""Judgement, W: how far the base load of an unknown boat may lie from its first
reading."""
LEAST_LOAD_W: Final = -5.0
"""Judgement, W: no boat draws less than nothing; a meter may be off by this much."""
KNOWN_AFTER_S: Final = 1200.0
"""Judgement, s: idle time after which the range is learnt from the boat."""
SURE_AFTER_S: Final = 12.0 * 3600.0
"""Judgement, s: time after which the range gets no more margin."""


class Histogram:
    """Time spent per 5 W, old days fading."""

    __slots__ = ("seconds", "total_s")

    def __init__(self) -> None:
        """Start empty."""
        self.seconds: dict[int, float] = {}
        self.total_s = 0.0

    def add(self, level_w: float, seconds: float) -> None:
        """Add time spent at a level."""
        index = int(level_w // BIN_W)
        self.seconds[index] = self.seconds.get(index, 0.0) + seconds
        self.total_s += seconds

    def fade(self) -> None:
        """Let what is older than the memory fade."""
        if self.total_s > MEMORY_S:
            share = MEMORY_S / self.total_s
            self.seconds = {
                index: seconds * share
                for index, seconds in self.seconds.items()
                if seconds * share > 1.0
            }
            self.total_s = sum(self.seconds.values())

    def quantile(self, share: float) -> float:
        """Return the level below which the load lay for that duty cycle."""
        wanted = share * self.total_s
        seen = 0.0
        for index in sorted(self.seconds):
            seen += self.seconds[index]
            if seen >= wanted:
                return (index + 0.5) * BIN_W
        return 0.0


class BaseLoadState(TypedDict):
    """What `BaseLoad` saves."""

    load: list[tuple[int, float]]
    load_s: float
    idle: list[tuple[int, float]]
    idle_s: float
    base_w: float | None
    steps: BaseLoadStepsState
    low_w: float | None
    high_w: float
    width_w: float


class BaseLoad:
    """Range of the base load, learnt from the boat itself."""

    __slots__ = ("_base_w", "_idle", "_load", "high_w", "low_w", "steps", "width_w")

    def __init__(self) -> None:
        """Know nothing yet."""
        self._load = Histogram()
        self._idle = Histogram()
        self._base_w: float | None = None
        self.steps = BaseLoadSteps()
        self.low_w: float | None = None
        self.high_w = 0.0
        self.width_w = 60.0

    def usual(self, level_w: float) -> float:
        """Return the base load to start from when the load is at a level.

        The first level ever seen is the start where nothing else is known.
        """
        low = self.low_w
        if low is None:
            low = self.low_w = max(LEAST_LOAD_W, min(level_w, 200.0) - FIRST_SPAN_W)
            self.high_w = min(level_w, 500.0) + FIRST_SPAN_W
        return min(max(level_w, low), self.high_w)

    def add(self, load_w: float, base_w: float, seconds: float, *, idle: bool) -> None:
        """Take a settled stretch; `idle` says that nothing ran in it."""
        self._load.add(load_w, seconds)
        if self._base_w is not None:
            self.steps.add(base_w - self._base_w)
        self._base_w = base_w
        self.steps.passed(seconds)
        if idle:
            self._idle.add(base_w, seconds)

    def settle(self) -> None:
        """Work out the range anew and let old days fade."""
        load, idle = self._load, self._idle
        if idle.total_s < KNOWN_AFTER_S:
            return
        load.fade()
        idle.fade()
        low = load.quantile(0.002)
        high = max(idle.quantile(0.99), load.quantile(0.5))
        unsure = max(0.0, 1.0 - load.total_s / SURE_AFTER_S)
        self.low_w = max(LEAST_LOAD_W, low - 4.0 - 0.5 * FIRST_SPAN_W * unsure)
        self.high_w = high + 8.0 + 0.7 * FIRST_SPAN_W * unsure
        self.width_w = max(40.0, 0.3 * (high - low))

    def excess(self, level_w: float) -> float:
        """Return how far a level lies outside of the range, in widths.

        Below the range a width is a third of what it is above: too low is impossible,
        too high only unusual.
        """
        low = self.low_w
        if low is None:
            return 0.0
        if level_w > self.high_w:
            return min(8.0, (level_w - self.high_w) / self.width_w)
        if level_w < low:
            return min(30.0, 3.0 * (low - level_w) / self.width_w)
        return 0.0

    def snapshot(self) -> BaseLoadState:
        """Return the whole state, JSON-able."""
        return {
            "load": list(self._load.seconds.items()),
            "load_s": self._load.total_s,
            "idle": list(self._idle.seconds.items()),
            "idle_s": self._idle.total_s,
            "base_w": self._base_w,
            "steps": self.steps.snapshot(),
            "low_w": self.low_w,
            "high_w": self.high_w,
            "width_w": self.width_w,
        }

    def restore(self, state: BaseLoadState) -> None:
        """Take over what `snapshot` gave."""
        self._load.seconds = dict(state["load"])
        self._load.total_s = state["load_s"]
        self._idle.seconds = dict(state["idle"])
        self._idle.total_s = state["idle_s"]
        self._base_w = state["base_w"]
        self.steps.restore(state["steps"])
        self.low_w = state["low_w"]
        self.high_w = state["high_w"]
        self.width_w = state["width_w"]
