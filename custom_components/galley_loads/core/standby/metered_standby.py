"""Standby of an appliance that has its own meter: what that shows between runs."""

from collections import deque
from statistics import median
from typing import Final, TypedDict

from .meter_resolution import MeterResolution, MeterResolutionState
from .relay_steps import MOST_STANDBY_W

_SETTLE_S: Final = 180.0
"""Fans and displays die down after a run before what is left is standby."""
_EVERY_S: Final = 60.0
_KEPT: Final = 180
_NEEDED: Final = 10


class OwnMeterState(TypedDict):
    """What `OwnMeter` saves."""

    resolution: MeterResolutionState
    values: list[float]
    idle_since_s: float | None
    taken_s: float | None
    present_w: float | None


class OwnMeter:
    """Learns one appliance's standby from its meter, a value a minute while idle."""

    def __init__(self) -> None:
        """Know nothing yet."""
        self.resolution = MeterResolution()
        self._values: deque[float] = deque(maxlen=_KEPT)
        self._idle_since_s: float | None = None
        self._taken_s = float("-inf")
        self.present_w: float | None = None

    def observe(self, at_s: float, power_w: float | None, idle: bool) -> None:
        """Take the meter's value; `idle` says that the appliance is live and not running."""
        self.present_w = power_w
        if power_w is None:
            self.resolution.interrupt()
            self._idle_since_s = None
            return
        if not idle:
            self._idle_since_s = None
            return
        if self._idle_since_s is None:
            self._idle_since_s = at_s
            self.resolution.interrupt()
        if at_s - self._idle_since_s < _SETTLE_S:
            return
        self.resolution.observe(power_w)
        if at_s - self._taken_s >= _EVERY_S and power_w <= MOST_STANDBY_W:
            self._values.append(round(power_w, 2))
            self._taken_s = at_s

    def start_over(self) -> None:
        """Wait for the next idle spell: the clock was set."""
        self._idle_since_s = None
        self._taken_s = float("-inf")

    @property
    def standby_w(self) -> float | None:
        """The standby power, W; None while too little was seen or nothing above the floor.

        An appliance is often unplugged between runs; those zeros are not its standby.
        """
        if len(self._values) < _NEEDED:
            return None
        least_w = max(self.resolution.floor_w, 0.01)
        present = [value for value in self._values if value >= least_w]
        return median(present) if len(present) >= _NEEDED else None

    def snapshot(self) -> OwnMeterState:
        """Return the state as JSON-able data."""
        return {
            "resolution": self.resolution.snapshot(),
            "values": list(self._values),
            "idle_since_s": self._idle_since_s,
            "taken_s": None if self._taken_s == float("-inf") else self._taken_s,
            "present_w": self.present_w,
        }

    def restore(self, state: OwnMeterState) -> None:
        """Take up a state from `snapshot`."""
        self.resolution.restore(state["resolution"])
        self._values = deque(state["values"], maxlen=_KEPT)
        self._idle_since_s = state["idle_since_s"]
        self._taken_s = float("-inf") if state["taken_s"] is None else state["taken_s"]
        self.present_w = state["present_w"]
