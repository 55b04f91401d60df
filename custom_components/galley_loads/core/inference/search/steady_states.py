"""Cut the load into steady states.

A steady state is a stretch in which the load stays within the meter's noise. It is closed
when a reading leaves the noise band, or when it has stood long enough to be believed
(first after ten seconds, then every two minutes: time moves on its own). Everything
downstream works once per steady state, so a reading within the band costs next to nothing.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple, TypedDict

from ...stateful import Row, from_row, row

MIN_BAND_W: Final = 7.0
"""Judgement, W: half the noise band at least."""
BAND_SIGMAS: Final = 4.0
"""Judgement, standard deviations of the noise: half the noise band."""
BAND_SHARE: Final = 0.004
"""Judgement, a share of the load: what comes on top of it."""
CONFIRM_S: Final = 10.0
"""Judgement, s: when a new steady state is believed."""
LONGEST_S: Final = 120.0
"""Judgement, s: after which it is handed on again, as time moves on its own."""
SHORT_PERIODS: Final = 2.0
"""Judgement, periods of the meter: a steady state that lasts no longer may be part of a
step."""
RAMP_S: Final = 14.0
"""Judgement, s: the longest ramp that is joined into one step."""
MIN_NOISE_W: Final = 0.5
"""Judgement, W: no meter is taken for quieter."""
MAX_NOISE_W: Final = 60.0
"""Judgement, W: no meter is taken for noisier."""
MIN_PERIOD_S: Final = 0.9
"""Judgement, s: no meter is taken for faster."""
MAX_PERIOD_S: Final = 60.0
"""Judgement, s: no meter is taken for slower."""
LEAST_AHEAD_S: Final = 0.01
"""Judgement, s: a step that has just come is looked at as if it had stood for so long."""


class SteadyState(NamedTuple):
    """A stretch of nearly constant load.

    `continues` says that it is a further piece of the steady state before it; `short` that it
    lasted no longer than a meter needs to show a step.
    """

    start_s: float
    end_s: float
    level_w: float
    continues: bool
    short: bool


class SteadyStateFinderState(TypedDict):
    """What `SteadyStateFinder` saves."""

    noise_w: float
    period_s: float
    start_s: float | None
    now_s: float
    changed_s: float
    level_w: float
    held_w: float
    weight_s: float
    until_s: float
    band_w: float
    continues: bool
    ramp: list[Row]
    released_w: float


class SteadyStateFinder:
    """Load values in, steady states out; also learns the meter's noise and period."""

    __slots__ = (
        "_band_w",
        "_changed_s",
        "_continues",
        "_held_w",
        "_level_w",
        "_now_s",
        "_ramp",
        "_released_w",
        "_start_s",
        "_until_s",
        "_weight_s",
        "noise_w",
        "period_s",
    )

    def __init__(self) -> None:
        """Start with no steady state and a guess at the meter."""
        self.noise_w = 1.5
        self.period_s = 2.0
        self._start_s: float | None = None
        self._now_s = 0.0
        self._changed_s = 0.0
        self._level_w = 0.0
        self._held_w = 0.0
        self._weight_s = 0.0
        self._until_s = 0.0
        self._band_w = MIN_BAND_W
        self._continues = False
        self._ramp: list[SteadyState] = []
        self._released_w = 0.0

    def feed(self, at_s: float, power_w: float) -> Sequence[SteadyState]:
        """Take one load value; return the steady states that it closes, mostly none."""
        if self._start_s is None:
            self._begin(at_s, power_w, continues=False)
            return ()
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
                self._learn_noise(deviation, at_s - self._changed_s)
                self._held_w = power_w
                self._changed_s = at_s
            if at_s >= self._until_s:
                return self._close(at_s, power_w, continues=True)
            return ()
        # Samples also come with the boat's other sensors; only the load shows its period.
        self._learn_period(at_s - self._changed_s)
        return self._close(at_s, power_w, continues=False)

    def flush(self, at_s: float) -> Sequence[SteadyState]:
        """Close the open steady state at that time; the next value starts afresh."""
        if self._start_s is None:
            return ()
        found: list[SteadyState] = []
        if at_s > self._now_s:
            found.extend(self.feed(at_s, self._held_w))
        start = self._start_s
        self._start_s = None
        if start is not None and self._now_s > start:
            found.extend(
                self._release(
                    SteadyState(
                        start, self._now_s, self._level_w, self._continues, False
                    )
                )
            )
        found.extend(self._ramp)
        self._ramp = []
        return found

    def ahead(self, at_s: float) -> Sequence[SteadyState]:
        """Return what would close if the load stayed as it is until a time; nothing does.

        A further piece of a steady state that was handed on before says nothing new.
        """
        if self._start_s is None or (self._continues and not self._ramp):
            return ()
        twin = SteadyStateFinder()
        for name in self.__slots__:
            setattr(twin, name, getattr(self, name))
        twin._ramp = list(self._ramp)
        return twin.flush(max(at_s, self._now_s + LEAST_AHEAD_S))

    @property
    def held_w(self) -> float:
        """The load as last shown by the meter, W."""
        return self._held_w

    def _begin(self, at_s: float, power_w: float, *, continues: bool) -> None:
        self._start_s = at_s
        self._now_s = at_s
        self._held_w = power_w
        self._continues = continues
        if not continues:
            self._level_w = power_w
            self._changed_s = at_s
        self._weight_s = 0.0
        self._until_s = at_s + (LONGEST_S if continues else CONFIRM_S)
        self._band_w = max(
            MIN_BAND_W, BAND_SIGMAS * self.noise_w + BAND_SHARE * abs(power_w)
        )

    def _close(
        self, at_s: float, power_w: float, *, continues: bool
    ) -> Sequence[SteadyState]:
        start = self._start_s
        if start is None or at_s <= start:
            self._begin(at_s, power_w, continues=False)
            return ()
        short = (
            not self._continues and at_s - start <= SHORT_PERIODS * self.period_s + 0.3
        )
        closed = SteadyState(start, at_s, self._level_w, self._continues, short)
        self._begin(at_s, power_w, continues=continues)
        if not short and not self._ramp:
            self._released_w = closed.level_w
            return (closed,)
        return self._release(closed)

    def _release(self, closed: SteadyState) -> list[SteadyState]:
        """Join the short steady states of a ramp into one.

        Short ones that go on in one direction are held back. What follows decides: if it
        goes further, all of them were the ramp to it; if it turns back, the last of them
        was a pulse of its own.
        """
        ramp = self._ramp
        found: list[SteadyState] = []
        if ramp:
            rising = ramp[0].level_w > self._released_w
            further = (closed.level_w > ramp[-1].level_w) == rising
            if further and closed.short and closed.end_s - ramp[0].start_s <= RAMP_S:
                ramp.append(closed)
                return found
            if further:
                found.append(_joined(ramp))
            else:
                if len(ramp) > 1:
                    found.append(_joined(ramp[:-1]))
                found.append(ramp[-1])
            self._released_w = found[-1].level_w
            self._ramp = []
        if closed.short:
            self._ramp = [closed]
        else:
            self._released_w = closed.level_w
            found.append(closed)
        return found

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

    def snapshot(self) -> SteadyStateFinderState:
        """Return the whole state, JSON-able."""
        return {
            "noise_w": self.noise_w,
            "period_s": self.period_s,
            "start_s": self._start_s,
            "now_s": self._now_s,
            "changed_s": self._changed_s,
            "level_w": self._level_w,
            "held_w": self._held_w,
            "weight_s": self._weight_s,
            "until_s": self._until_s,
            "band_w": self._band_w,
            "continues": self._continues,
            "ramp": [row(steady) for steady in self._ramp],
            "released_w": self._released_w,
        }

    def restore(self, state: SteadyStateFinderState) -> None:
        """Take over a state that `snapshot` gave."""
        self.noise_w = state["noise_w"]
        self.period_s = state["period_s"]
        self._start_s = state["start_s"]
        self._now_s = state["now_s"]
        self._changed_s = state["changed_s"]
        self._level_w = state["level_w"]
        self._held_w = state["held_w"]
        self._weight_s = state["weight_s"]
        self._until_s = state["until_s"]
        self._band_w = state["band_w"]
        self._continues = state["continues"]
        self._ramp = [from_row(SteadyState, one) for one in state["ramp"]]
        self._released_w = state["released_w"]


def _joined(ramp: list[SteadyState]) -> SteadyState:
    """Return one short steady state in place of several, at their mean level."""
    if len(ramp) == 1:
        return ramp[0]
    start, end = ramp[0].start_s, ramp[-1].end_s
    energy = sum(p.level_w * (p.end_s - p.start_s) for p in ramp)
    return SteadyState(start, end, energy / (end - start), False, True)
