"""What a meter can resolve: the step it counts in and the noise it shows.

A clamp of one per cent on a 2 kW range errs by 20 W and cannot see half a watt of
standby. The error of scale is not visible in the values themselves, but the quantum and
the noise are; nothing smaller than those is ever quoted.
"""

from collections import deque
from statistics import median
from typing import Final, TypedDict

_KEPT: Final = 120
_VALUES_KEPT: Final = 40
_QUANTA_W: Final = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
_RENEW_EVERY: Final = 20
_NOISE_FACTOR: Final = 2.0
_SIGMA_PER_MEDIAN: Final = 1.4826 / 2**0.5
"""Standard deviation of single values per median absolute difference of neighbours."""


class MeterResolutionState(TypedDict):
    """What `MeterResolution` saves."""

    differences: list[float]
    values: list[float]
    last_w: float | None
    floor_w: float
    since: int


class MeterResolution:
    """Learns the quantum and the noise of one meter from the values that it reports.

    Unchanged values count as differences of zero: a meter that mostly repeats itself is
    quiet, however large its rare steps are.
    """

    __slots__ = ("_differences", "_floor_w", "_last_w", "_since", "_values")

    def __init__(self) -> None:
        """Know nothing yet."""
        self._differences: deque[float] = deque(maxlen=_KEPT)
        self._values: deque[float] = deque(maxlen=_VALUES_KEPT)
        self._last_w: float | None = None
        self._floor_w = 0.0
        self._since = 0

    def observe(self, value_w: float) -> None:
        """Take the next value of the meter, W."""
        last_w, self._last_w = self._last_w, value_w
        if last_w is None:
            return
        if value_w == last_w:
            self._differences.append(0.0)
        else:
            difference_w = _to_hundredths(abs(value_w - last_w))
            self._differences.append(difference_w)
            if difference_w > 0:
                self._values.append(_to_hundredths(value_w))
        self._since += 1
        if self._since >= _RENEW_EVERY or len(self._differences) < _RENEW_EVERY:
            noise_w = _NOISE_FACTOR * self.noise_w
            self._floor_w = max(self._quantum_above(noise_w), noise_w)
            self._since = 0

    def interrupt(self) -> None:
        """Forget the last value: the next one follows a gap."""
        self._last_w = None

    @property
    def noise_w(self) -> float:
        """The standard deviation of a steady load's values, W."""
        if not self._differences:
            return 0.0
        return _SIGMA_PER_MEDIAN * median(self._differences)

    def _quantum_above(self, least_w: float) -> float:
        """Return the steps in which the meter counts, W: the largest that fits its values.

        It is 0 for a meter that has not changed yet, or counts no coarser than `least_w`.
        """
        values = set(self._values)
        for quantum_w in _QUANTA_W if values else ():
            if quantum_w <= least_w:
                break
            for value in values:
                steps = value / quantum_w
                if abs(steps - round(steps)) >= 1e-6:
                    break
            else:
                return quantum_w
        return 0.0

    @property
    def floor_w(self) -> float:
        """The smallest power worth quoting from this meter, W."""
        return self._floor_w

    def snapshot(self) -> MeterResolutionState:
        """Return the state as JSON-able data."""
        return {
            "differences": list(self._differences),
            "values": list(self._values),
            "last_w": self._last_w,
            "floor_w": self._floor_w,
            "since": self._since,
        }

    def restore(self, state: MeterResolutionState) -> None:
        """Take up a state from `snapshot`."""
        self._differences = deque(state["differences"], maxlen=_KEPT)
        self._values = deque(state["values"], maxlen=_VALUES_KEPT)
        self._last_w = state["last_w"]
        self._floor_w = state["floor_w"]
        self._since = state["since"]


def _to_hundredths(power_w: float) -> float:
    # Most meters count whole watts, and rounding is ten times as dear as seeing that.
    return power_w if power_w.is_integer() else round(power_w, 2)
