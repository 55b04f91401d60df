"""Cut the load into plateaus.

A plateau is a stretch in which the load stays within the meter's noise. It is closed when
a reading leaves the noise band, when it has stood long enough to be believed (first after
ten seconds, then every two minutes: time moves on its own). Everything downstream works
once per plateau, so a reading within the band costs next to nothing.
"""

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

MIN_BAND_W: Final = 7.0
BAND_SIGMAS: Final = 4.0
BAND_SHARE: Final = 0.004
CONFIRM_S: Final = 10.0
LONGEST_S: Final = 120.0
MIN_NOISE_W: Final = 0.5
MAX_NOISE_W: Final = 60.0
MIN_PERIOD_S: Final = 0.9
MAX_PERIOD_S: Final = 30.0


class Plateau(NamedTuple):
    """A stretch of nearly constant load.

    `continues` says that it is a further piece of the plateau before it; `short` that it
    lasted no longer than a meter needs to show a step.
    """

    start_s: float
    end_s: float
    level_w: float
    last_w: float
    continues: bool
    short: bool


class PlateauFinder:
    """Load values in, plateaus out; also learns the meter's noise and period."""

    __slots__ = (
        "_band_w",
        "_confirmed",
        "_continues",
        "_held_w",
        "_level_w",
        "_now_s",
        "_start_s",
        "_until_s",
        "_weight_s",
        "noise_w",
        "period_s",
    )

    def __init__(self) -> None:
        """Start with no plateau and a guess at the meter."""
        self.noise_w = 1.5
        self.period_s = 2.0
        self._start_s: float | None = None
        self._now_s = 0.0
        self._level_w = 0.0
        self._held_w = 0.0
        self._weight_s = 0.0
        self._until_s = 0.0
        self._band_w = MIN_BAND_W
        self._continues = False
        self._confirmed = False

    def feed(self, at_s: float, power_w: float) -> Plateau | None:
        """Take one load value; return the plateau that it closes, if any."""
        if self._start_s is None:
            self._begin(at_s, power_w, continues=False)
            return None
        step_s = at_s - self._now_s
        level = self._level_w
        if step_s > 0.0:
            held = self._held_w
            weight = self._weight_s
            level += (held - level) * step_s / (weight + step_s)
            self._level_w = level
            self._weight_s = weight + step_s
            self._now_s = at_s
        deviation = power_w - level
        if -self._band_w <= deviation <= self._band_w:
            if power_w != self._held_w:
                self._learn_noise(deviation, step_s)
                self._held_w = power_w
            if at_s >= self._until_s:
                return self._close(at_s, power_w, continues=True)
            return None
        self._learn_period(step_s)
        return self._close(at_s, power_w, continues=False)

    def flush(self, at_s: float) -> Plateau | None:
        """Close the open plateau at that time; the next value starts afresh."""
        if self._start_s is None:
            return None
        if at_s > self._now_s:
            self.feed(at_s, self._held_w)
        start = self._start_s
        self._start_s = None
        if self._now_s <= start:
            return None
        return Plateau(
            start, self._now_s, self._level_w, self._held_w, self._continues, False
        )

    @property
    def open_since_s(self) -> float | None:
        """Start of the plateau that is still open."""
        return self._start_s

    def _begin(self, at_s: float, power_w: float, *, continues: bool) -> None:
        self._start_s = at_s
        self._now_s = at_s
        self._held_w = power_w
        self._continues = continues
        if not continues:
            self._level_w = power_w
        self._weight_s = 0.0
        self._until_s = at_s + (LONGEST_S if continues else CONFIRM_S)
        self._band_w = max(
            MIN_BAND_W, BAND_SIGMAS * self.noise_w + BAND_SHARE * abs(power_w)
        )

    def _close(self, at_s: float, power_w: float, *, continues: bool) -> Plateau | None:
        start = self._start_s
        assert start is not None
        short = not self._continues and at_s - start <= 1.6 * self.period_s + 0.3
        closed = Plateau(
            start, at_s, self._level_w, self._held_w, self._continues, short
        )
        if at_s <= start:
            self._begin(at_s, power_w, continues=False)
            return None
        self._begin(at_s, power_w, continues=continues)
        return closed

    def _learn_noise(self, deviation_w: float, step_s: float) -> None:
        gain = 0.01 if step_s < 3.0 * self.period_s else 0.02
        variance = self.noise_w * self.noise_w
        variance += gain * (deviation_w * deviation_w - variance)
        self.noise_w = min(MAX_NOISE_W, max(MIN_NOISE_W, variance**0.5))
        self._learn_period(step_s)

    def _learn_period(self, step_s: float) -> None:
        """Follow the lower tenth of the time between changes."""
        if step_s <= 0.2:
            return
        period = self.period_s
        if step_s < period:
            period += 0.18 * (step_s - period)
        else:
            period += 0.02 * min(step_s - period, period)
        self.period_s = min(MAX_PERIOD_S, max(MIN_PERIOD_S, period))

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state, JSON-able."""
        return {name: getattr(self, name) for name in self.__slots__}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take over a state that `snapshot` gave."""
        for name in self.__slots__:
            setattr(self, name, state[name])
