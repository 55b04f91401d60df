"""Whether the bank's readings have the sign that the boat description says.

Several witnesses are heard, each of which can tell by itself: steps of the load, of the
chargers and of the bank's voltage, the gauge, and charging out of nothing. A sign is called
wrong when one of them is sure of it and none holds it for right. So an alternator that
nobody listed, which charges the bank out of nothing too, is told apart: with it the gauge
rises, and what is switched on still discharges.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from math import inf, isfinite
from operator import attrgetter
from typing import Final, TypedDict

from ...boat.boat import Boat
from ...boat.sensor_role import Role, called_with_id
from ...phrase import Phrase, phrase
from ...stateful import Row, from_row, row
from ..load_sample import LoadSample
from ..tally import Leaning, Tally
from ..wrong_sign import Turned, WrongSign
from .bank_look import LOOK_S, BankEye, BankLook
from .bank_spans import RISE_W, GaugeSpans, GaugeSpansState, Unfed, UnfedState
from .bank_steps import BankSteps, BankStepsState

LEAST_STEPS: Final = 5.0
LEAST_SPANS: Final = 3.0
LEAST_UNFED_S: Final = 4 * 3600.0
LEAST_TIMES: Final = 4.0
MOST_FED_SHARE: Final = 0.15
"""A bank is soon seen to discharge in the dark, whatever charged it there as well."""

_LONGEST_HELD_S: Final = 300.0
"""The pipeline repeats what holds at every minute; what is longer ago is a gap."""

_at_s: Final = attrgetter("at_s")


class BankSignState(TypedDict):
    """What `BankSign` saves."""

    steps: BankStepsState
    gauge: GaugeSpansState
    unfed: UnfedState
    held: Row
    held_s: float | None
    due_s: float | None


class BankSign:
    """Learns from a boat's samples whether her bank's sign makes sense."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        sensors = boat.sensors
        self._roles = {
            sensor.entity_id: role
            for role, sensor in (
                (Role.BATTERY_POWER, sensors.battery_power),
                (Role.BATTERY_CURRENT, sensors.battery_current),
            )
            if sensor is not None
        }
        self._eye = BankEye(boat)
        self._steps = BankSteps(boat)
        self._gauge = GaugeSpans(boat.bank)
        self._unfed = Unfed()
        # What was seen last, when that was told, and when to look next.
        self._held = BankLook(None, None, None, None, None)
        self._held_s = -inf
        self._due_s = -inf if boat.sensors.has_battery_power else inf

    def observe_all(self, samples: Sequence[LoadSample]) -> None:
        """Take the next samples, in order of time; how many at a time matters not.

        Every reading comes through here, hence no look at more of them than are needed.
        """
        index = 0
        while True:
            index = bisect_left(samples, self._due_s, index, key=_at_s)
            if index:
                before = samples[index - 1]
                self._held, self._held_s = self._eye.look(before), before.at_s
            if index == len(samples):
                return
            self._look_until(samples[index].at_s)

    def start_over(self) -> None:
        """Look anew from the next sample on: the clock was set."""
        self._held = BankLook(None, None, None, None, None)
        self._held_s = -inf
        self._due_s = -inf if self._due_s < inf else inf
        self._steps.forget()
        self._gauge.forget()

    def _look_until(self, at_s: float) -> None:
        """Look at what held, every twenty seconds up to a moment."""
        if at_s - self._held_s > _LONGEST_HELD_S:
            self._steps.forget()
            self._gauge.forget()
            self._due_s = (at_s // LOOK_S + 1) * LOOK_S
            return
        while self._due_s <= at_s:
            self._see(self._held)
            self._due_s += LOOK_S

    def _see(self, look: BankLook) -> None:
        self._steps.see(look)
        self._gauge.see(look)
        self._unfed.see(look)

    def found(self) -> tuple[WrongSign, ...]:
        """Return the bank's sign if it is wrong, with all that says so."""
        said = tuple(self._witnesses())
        if any(leaning is Leaning.RIGHT for leaning, _ in said):
            return ()
        against = [evidence for leaning, evidence in said if leaning is Leaning.WRONG]
        if not against:
            return ()
        called = tuple(called_with_id(role, one) for one, role in self._roles.items())
        return (WrongSign(Turned.BANK, tuple(self._roles), called, tuple(against)),)

    def _witnesses(self) -> Iterator[tuple[Leaning, Phrase]]:
        """Yield what each witness holds of the sign, and what it says if that is wrong."""
        unfed, steps, gauge = self._unfed, self._steps, self._gauge.votes
        leaning = unfed.seconds.leaning(LEAST_UNFED_S, MOST_FED_SHARE)
        if leaning is Leaning.WRONG and unfed.times < LEAST_TIMES:
            leaning = Leaning.OPEN
        yield (
            leaning,
            phrase(
                "sign.charged_by_nothing",
                peak_w=unfed.peak_w,
                duration_h=unfed.seconds.wrong / 3600.0,
                times=unfed.times,
                rise_w=RISE_W,
            ),
        )
        wrong, times = _counted(steps.with_load)
        yield (
            steps.with_load.leaning(LEAST_STEPS),
            phrase("sign.steps_with_load", wrong=wrong, times=times),
        )
        wrong, times = _counted(gauge)
        yield (
            gauge.leaning(LEAST_SPANS),
            phrase("sign.against_gauge", wrong=wrong, times=times),
        )
        wrong, times = _counted(steps.with_voltage)
        yield (
            steps.with_voltage.leaning(LEAST_STEPS),
            phrase("sign.steps_against_voltage", wrong=wrong, times=times),
        )
        wrong, times = _counted(steps.with_sources)
        yield (
            steps.with_sources.leaning(LEAST_STEPS),
            phrase("sign.steps_against_chargers", wrong=wrong, times=times),
        )

    def snapshot(self) -> BankSignState:
        """Return the state as plain data, fit for JSON."""
        return {
            "steps": self._steps.snapshot(),
            "gauge": self._gauge.snapshot(),
            "unfed": self._unfed.snapshot(),
            "held": row(self._held),
            "held_s": _or_none(self._held_s),
            "due_s": _or_none(self._due_s),
        }

    def restore(self, state: BankSignState) -> None:
        """Take back what `snapshot` gave, into a fresh one of the same boat."""
        self._steps.restore(state["steps"])
        self._gauge.restore(state["gauge"])
        self._unfed.restore(state["unfed"])
        self._held = from_row(BankLook, state["held"])
        if state["held_s"] is not None:
            self._held_s = state["held_s"]
        if state["due_s"] is not None:
            self._due_s = state["due_s"]


def _counted(votes: Tally) -> tuple[int, int]:
    """Return how often the sign was wrong, and of how many times."""
    wrong, right = round(votes.wrong), round(votes.right)
    return wrong, wrong + right


def _or_none(at_s: float) -> float | None:
    return at_s if isfinite(at_s) else None
