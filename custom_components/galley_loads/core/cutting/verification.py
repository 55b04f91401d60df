"""Whether a cut took effect: the relay says open, and the draw fell.

A relay's contact may weld; then its coil lets go and the current flows on. The only proof
is that the load steps down. That proof needs a step the meter can see; where standby is
smaller than that, the cut is noted as not verified rather than called good or bad.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from .outcomes import Asker, Trouble, Unverified

FALL_WITHIN_S: Final = 20.0
_WAIT_FOR_METER_S: Final = 180.0
_LEAST_TO_SEE_W: Final = 4.0
_METER_STUCK_W: Final = 30.0
_PART: Final = 0.5
"""The part of the known standby that has to be seen going."""
_SAMPLES: Final = 3


@dataclass(slots=True)
class Verification:
    """The look at one cut, from the moment it was ordered.

    `before_w` is the mean load just before, `expected_w` the standby that should go;
    `meters_w` are the circuit's own meters at that moment, by appliance; `by` is who wanted
    the cut.
    """

    cut_s: float
    before_w: float | None
    expected_w: float | None
    floor_w: float
    meters_w: dict[str, float] = field(default_factory=dict)
    by: Asker = Asker.RULE
    after_w: list[float] = field(default_factory=list)
    seen_open: bool = False
    others_ran: bool = False
    fell_w: float | None = None

    def observe(
        self,
        at_s: float,
        load_w: float | None,
        load_age_s: float | None,
        relay_closed: bool | None,
        meters_w: Mapping[str, float | None],
        *,
        others_run: bool,
    ) -> bool | Trouble | Unverified | None:
        """Take what is known now; return the finding, None while it is still open.

        `others_run` says that an appliance on another circuit runs: then the load moves
        by itself. True means that the draw fell; `fell_w` then says by how much.
        """
        self.others_ran = self.others_ran or others_run
        elapsed_s = at_s - self.cut_s
        if relay_closed is False:
            self.seen_open = True
        if not self.seen_open:
            return Trouble.RELAY_DID_NOT_OPEN if elapsed_s >= FALL_WITHIN_S else None
        if load_w is not None and elapsed_s > 0:
            self.after_w = [*self.after_w, load_w][-_SAMPLES:]
        return self._judge(elapsed_s, load_age_s, meters_w)

    def _judge(
        self,
        elapsed_s: float,
        load_age_s: float | None,
        meters_w: Mapping[str, float | None],
    ) -> bool | Trouble | Unverified | None:
        drawing = self._still_drawing(meters_w)
        if drawing is False and self._visible is False:
            # Its own meter proves what the boat's load is too coarse to show.
            return True
        fallen_w = self._fallen_w()
        if (
            self._visible
            and fallen_w is not None
            and not drawing
            and not self.others_ran
        ):
            assert self.expected_w is not None
            if len(self.after_w) == _SAMPLES and fallen_w >= _PART * self.expected_w:
                self.fell_w = fallen_w
                return True
        if elapsed_s < FALL_WITHIN_S:
            return None
        if drawing:
            return Trouble.DRAW_DID_NOT_FALL
        if self.before_w is None or fallen_w is None:
            return Unverified.READINGS_STOPPED
        if not self._visible:
            return Unverified.TOO_SMALL_TO_SEE
        if load_age_s is None or load_age_s >= elapsed_s:
            # Nothing was reported since the cut: a slow meter has its time, then it counts
            # as lost.
            return (
                Unverified.READINGS_STOPPED if elapsed_s >= _WAIT_FOR_METER_S else None
            )
        assert self.expected_w is not None
        if self.others_ran or fallen_w < -_PART * self.expected_w:
            return Unverified.LOAD_MOVED
        if fallen_w >= _PART * self.expected_w:
            self.fell_w = fallen_w
            return True
        return Trouble.DRAW_DID_NOT_FALL

    @property
    def _visible(self) -> bool:
        """Whether the standby is large enough for the load's meter."""
        least_w = max(_LEAST_TO_SEE_W, 2.0 * self.floor_w)
        return self.expected_w is not None and self.expected_w >= least_w

    def _fallen_w(self) -> float | None:
        """Return how far the load is below where it was, W; negative if above."""
        if self.before_w is None or not self.after_w:
            return None
        return self.before_w - sum(self.after_w) / len(self.after_w)

    def _still_drawing(self, meters_w: Mapping[str, float | None]) -> bool | None:
        """Return what the circuit's own meters say, None if they have nothing to say."""
        verdict: bool | None = None
        for name, before_w in self.meters_w.items():
            now_w = meters_w.get(name)
            if now_w is None:
                continue
            if now_w >= _METER_STUCK_W or (
                before_w >= 2.0 and now_w > _PART * before_w
            ):
                return True
            if before_w >= 2.0:
                verdict = False
        return verdict


def mean_load_w(
    history: Sequence[tuple[float, float]], start_s: float, end_s: float
) -> float | None:
    """Return the time-weighted mean load of a span, None if nothing is known of it.

    `history` are loads (W) with the times (Unix seconds) from which each holds.
    """
    energy_ws = covered_s = 0.0
    for index, (from_s, load_w) in enumerate(history):
        until_s = history[index + 1][0] if index + 1 < len(history) else end_s
        seconds = min(until_s, end_s) - max(from_s, start_s)
        if seconds > 0:
            energy_ws += load_w * seconds
            covered_s += seconds
    return energy_ws / covered_s if covered_s > 0 else None
