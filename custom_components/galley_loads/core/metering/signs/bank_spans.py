"""What long spans tell: the charge against the gauge, and charging out of nothing."""

from typing import Final, TypedDict

from ...boat.boat import Bank
from ..tally import Tally, Votes
from .bank_look import LOOK_S, BankLook

SPANS_KEPT: Final = 10.0
SPAN_SHARE: Final = 0.04
"""Of the bank's capacity: so much goes in or out before the gauge is asked."""

_ONE_WAY_SHARE: Final = 0.3
_FOLLOWS_SHARE: Final = 0.25


class GaugeSpansState(TypedDict):
    """What `GaugeSpans` saves."""

    votes: Votes
    start_soc: float | None
    in_out: tuple[float, float]


class GaugeSpans:
    """Votes of spans in which the bank was charged, or discharged: did its gauge follow?"""

    def __init__(self, bank: Bank) -> None:
        """Start with nothing seen."""
        self.votes = Tally(SPANS_KEPT)
        self._full_wh = bank.capacity_ah * bank.nominal_voltage_v
        self._start_soc: float | None = None
        self._in_wh = 0.0
        self._out_wh = 0.0

    def see(self, look: BankLook) -> None:
        """Take the next look."""
        if look.battery_w is None or look.soc is None:
            self.forget()
            return
        if self._start_soc is None:
            self._begin(look.soc)
            return
        energy_wh = look.battery_w * LOOK_S / 3600.0
        self._in_wh += max(energy_wh, 0.0)
        self._out_wh += max(-energy_wh, 0.0)
        most, least = max(self._in_wh, self._out_wh), min(self._in_wh, self._out_wh)
        if most < SPAN_SHARE * self._full_wh:
            return
        net_wh = self._in_wh - self._out_wh
        moved = (look.soc - self._start_soc) / 100.0 * self._full_wh
        if least <= _ONE_WAY_SHARE * most and abs(moved) >= _FOLLOWS_SHARE * abs(
            net_wh
        ):
            self.votes.note((moved > 0.0) == (net_wh > 0.0))
        self._begin(look.soc)

    def forget(self) -> None:
        """Begin anew after a gap; the votes stay."""
        self._start_soc = None

    def _begin(self, soc: float) -> None:
        self._start_soc, self._in_wh, self._out_wh = soc, 0.0, 0.0

    def snapshot(self) -> GaugeSpansState:
        """Return the state as plain data, fit for JSON."""
        return {
            "votes": self.votes.snapshot(),
            "start_soc": self._start_soc,
            "in_out": (self._in_wh, self._out_wh),
        }

    def restore(self, state: GaugeSpansState) -> None:
        """Take back what `snapshot` gave."""
        self.votes.restore(state["votes"])
        self._start_soc = state["start_soc"]
        self._in_wh, self._out_wh = state["in_out"]


SECONDS_KEPT: Final = 16 * 3600.0
NOTHING_W: Final = 10.0
FLOWS_W: Final = 20.0
"""A shunt's own error is less than this."""

TIMES_KEPT: Final = 20.0
_MORE_SHARE: Final = 0.2
RISE_W: Final = 200.0
_RISE_ENDS_SHARE: Final = 0.5


class UnfedState(TypedDict):
    """What `Unfed` saves."""

    seconds: Votes
    peak_w: float
    times: float
    rise_w: float


class Unfed:
    """Votes, in seconds, of a bank that is charged though nothing is said to charge it.

    Against it speaks a bank that discharges while nothing charges it, as banks do.
    `times` counts how often such a charge rose, as it does when something is switched on.
    """

    def __init__(self) -> None:
        """Start with nothing seen."""
        self.seconds = Tally(SECONDS_KEPT)
        self.peak_w = 0.0
        self.times = 0.0
        # The highest of the rise that goes on, 0 while none does.
        self._rise_w = 0.0

    def see(self, look: BankLook) -> None:
        """Take the next look."""
        if look.battery_w is None or look.given_w is None:
            return
        given_w = max(look.given_w, 0.0)
        more_w = look.battery_w - (1.0 + _MORE_SHARE) * given_w
        dark = given_w <= NOTHING_W
        if more_w > (FLOWS_W if dark else RISE_W):
            self.seconds.note(False, LOOK_S)
            self.peak_w = max(self.peak_w, look.battery_w)
        elif dark and look.battery_w < -FLOWS_W:
            self.seconds.note(True, LOOK_S)
        if self._rise_w == 0.0 and more_w > RISE_W:
            self._rise_w = more_w
            self.times = min(self.times + 1.0, TIMES_KEPT)
        elif more_w < _RISE_ENDS_SHARE * self._rise_w:
            self._rise_w = 0.0
        elif self._rise_w > 0.0:
            self._rise_w = max(self._rise_w, more_w)

    def snapshot(self) -> UnfedState:
        """Return the state as plain data, fit for JSON."""
        return {
            "seconds": self.seconds.snapshot(),
            "peak_w": self.peak_w,
            "times": self.times,
            "rise_w": self._rise_w,
        }

    def restore(self, state: UnfedState) -> None:
        """Take back what `snapshot` gave."""
        self.seconds.restore(state["seconds"])
        self.peak_w, self.times = state["peak_w"], state["times"]
        self._rise_w = state["rise_w"]
