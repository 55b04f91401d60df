"""The one pipeline: readings in, settled runs and meals out.

Live operation, replay of a file and backfill from the recorder all feed this engine. What
comes out depends on the sequence of readings alone: not on the chunks in which they
arrive, not on when somebody asked for the present, not on a save and restore between.
Time passes by itself at every full minute, so that a steady boat is told of too.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from itertools import batched
from math import inf
from operator import attrgetter
from typing import Final, Self, TypedDict

from .boat.boat import Boat
from .engine_view import EngineView
from .events import Event, MealSettled, RunSettled, SpanSettled
from .inference.inference import Inference, InferenceState
from .inference.learning.recurring_loads import Discovery, DiscoveryState
from .inference.model.activity import Run, Segment
from .ledger.account import Flow, account
from .ledger.cells import Cell, Cells, CellsState
from .ledger.run_builder import RunBuilder
from .ledger.totals import Totals, TotalsState
from .live.live_board import BoardState, LiveBoard, Shown
from .live.live_view import LiveView
from .live.present import look
from .meals.meal_builder import (
    Meal,
    MealBuilder,
    MealBuilderState,
    MealMapping,
    meal_from_mapping,
    meal_to_mapping,
)
from .metering.clock_steps import ClockSet
from .metering.load_assembler import LoadAssembler, LoadAssemblerState
from .metering.load_sample import LoadSample
from .metering.reading import ReadingRow
from .metering.signs.bank_sign import BankSign, BankSignState
from .metering.source import Complaint
from .metering.wrong_sign import WrongSign
from .outlook.outlook import Outlook, OutlookState
from .standby import StandbyLearner, StandbyLearnerState
from .stateful import Row, StateError, checked, from_row, row

STATE_VERSION: Final = 1

MINUTE_S: Final = 60.0

READINGS_AT_ONCE: Final = 250
"""As many readings as are well given to `Engine.feed_all` at a time: some milliseconds' work."""

CLOCK_TOLD_FOR_S: Final = 600.0
"""For so long it is said that the clock was set."""

# A value of a fused load is held back for a moment before it counts; a minute is only
# closed when nothing before it can still arrive.
_HOLD_BACK_S: Final = 3.0

# With nothing measured for this long, nothing more can be learnt from time passing.
_SILENT_MINUTES: Final = 90

# Energies are added up for so many samples at a time, which is faster.
_HANDED_OVER_AT_ONCE: Final = 256

_at_s: Final = attrgetter("at_s")

type Tell = Callable[[list[Event]], object]
"""Called with what became settled."""


class EngineState(TypedDict):
    """What `Engine` saves."""

    version: int
    totals: TotalsState
    assembler: LoadAssemblerState
    inference: InferenceState
    cells: CellsState
    standby: StandbyLearnerState
    outlook: OutlookState
    discovery: DiscoveryState
    bank_sign: BankSignState
    runs: list[tuple[float, Row]]
    meals: MealBuilderState
    last_meal: MealMapping | None
    settled_s: float | None
    silent_minutes: int
    board: BoardState
    clock_set: Row | None


class Engine:
    """Turns the readings of one boat into runs, meals and counters.

    `standby`, `outlook` and `discovery` are what it learns on the way: what idle appliances
    draw, what sun, bank and crew have shown (advice is asked of it), and which loads recur
    that nobody named.
    """

    def __init__(self, boat: Boat) -> None:
        """Start with an empty past."""
        self.boat = boat
        self.totals = Totals()
        self.standby = StandbyLearner(boat)
        self._outlook = Outlook(boat)
        self.discovery = Discovery()
        self._bank_sign = BankSign(boat)
        self._assembler = LoadAssembler(boat)
        self._inference = Inference(boat)
        self._cells = Cells()
        self._runs = RunBuilder()
        self._meals = MealBuilder(boat)
        self._last_meal: Meal | None = None
        self._board = LiveBoard()
        self._tentative: (
            tuple[float | None, tuple[Segment, ...], RunBuilder, MealBuilder] | None
        ) = None
        self._advanced_s = -inf
        self._settled_s: float | None = None
        self._silent_minutes = 0
        # The full minute that comes after the newest sample.
        self._next_minute_s = inf
        # The newest sample, and those that were not yet added up.
        self._last: LoadSample | None = None
        self._fresh: list[LoadSample] = []
        self._clock_set: ClockSet | None = None

    def outlook(self) -> Outlook:
        """Return what sun, bank and crew have shown, brought up to the newest sample.

        That is work done on the engine: only for who may work with it.
        """
        self._hand_over()
        return self._outlook

    def wrong_signs(self) -> tuple[WrongSign, ...]:
        """Return the sensors that are read the wrong way round, with the evidence."""
        self._hand_over()
        return (*self._bank_sign.found(), *self._assembler.turned_meters)

    @property
    def missing(self) -> tuple[Complaint, ...]:
        """The sensors that are not known at present, and a clock that was set just now."""
        missing, clock_set = self._assembler.missing, self._clock_set
        if clock_set is None or self._last is None:
            return missing
        if self._last.at_s - clock_set.to_s >= CLOCK_TOLD_FOR_S:
            return missing
        return (*missing, clock_set.complaint())

    @property
    def inference(self) -> Inference:
        """The part that explains the load; what it learnt can be read there."""
        return self._inference

    @property
    def settled_until_s(self) -> float | None:
        """Up to when everything is accounted for; None before the first settling."""
        return self._settled_s

    @property
    def latest_s(self) -> float | None:
        """The time of the newest sample; None before the first."""
        return None if self._last is None else self._last.at_s

    @property
    def last_sample(self) -> LoadSample | None:
        """The newest sample, which holds until the next; None before the first."""
        return self._last

    @property
    def clock_set(self) -> ClockSet | None:
        """How the clock was set the last time that it jumped; None if it never did."""
        return self._clock_set

    def feed(self, reading: ReadingRow) -> list[Event]:
        """Take in one reading; return what became settled by it."""
        events: list[Event] = []
        self.feed_all((reading,), events.extend)
        return events

    def feed_all(self, readings: Iterable[ReadingRow], tell: Tell) -> None:
        """Take in the next readings, in order; how many come at a time matters not.

        `tell` is called with what became settled each time that something did, and may
        look at `totals` and `settled_until_s` then. The readings are assembled before the
        first is explained: give a few hundred at a time, and nothing else meanwhile.
        """
        rest = iter(readings)
        self._take(self._assembler.feed_all(rest), tell)
        while (to_s := self._assembler.set_back_to_s) is not None:
            self._start_over(to_s, tell)
            self._take(self._assembler.feed_all(rest), tell)

    def advance(self, at_s: float) -> list[Event]:
        """Let time pass up to `at_s` without a reading; return what became settled.

        A time that is more than a minute earlier than what was heard already says that the
        clock was set back.
        """
        if self._assembler.is_before(at_s):
            return self.set_clock(at_s)
        self._advanced_s = at_s
        events: list[Event] = []
        self._take(self._assembler.advance(at_s), events.extend)
        # A sample that is held back is not overtaken by time that passes.
        held_s = self._assembler.held_since_s
        until_s = at_s - _HOLD_BACK_S
        if held_s is not None:
            until_s = min(until_s, held_s)
        if until_s > self._next_minute_s:
            self._pass_minutes(until_s, events.extend)
        return events

    def set_clock(self, at_s: float) -> list[Event]:
        """Take that the clock was set, and shows `at_s` now; return what became settled.

        What goes on is settled as of the last reading. Nothing is counted for the time
        over which the clock jumped, as energy or as time; what was learnt goes on.
        """
        self._advanced_s = -inf
        events: list[Event] = []
        self._start_over(at_s, events.extend)
        return events

    def _start_over(self, at_s: float, tell: Tell) -> None:
        if (last := self._last) is not None:
            tell(self.finish())
            self._clock_set = ClockSet(last.at_s, at_s)
        self._inference.start_over()
        self._cells = Cells()
        self._runs = RunBuilder()
        self._meals = MealBuilder(self.boat)
        self.standby.start_over()
        self._outlook.start_over(at_s)
        self.discovery.start_over(at_s)
        self._bank_sign.start_over()
        # What is shown was decided at times that the clock no longer knows.
        self._board = LiveBoard()
        self._advanced_s = at_s
        self._settled_s = None
        self._silent_minutes = 0
        self._last = None
        sample = self._assembler.start_over(at_s)
        if last is not None:
            self._take((sample,), tell)

    def finish(self) -> list[Event]:
        """End of the history: settle everything."""
        events: list[Event] = []
        for sample in self._assembler.finish():
            # Minutes may have passed by themselves since the last reading.
            if self.latest_s is None or sample.at_s >= self.latest_s:
                self._take((sample,), events.extend)
        self._inference.finish()
        self._settle(events.extend)
        self._hand_over()
        for run in self._runs.finish():
            self._end_run(run, events)
        if self._settled_s is not None:
            end_s = self._settled_s + 2 * MINUTE_S * self.boat.meal_gap_minutes
            self._finish_meals(end_s, events)
        return events

    def _take(self, samples: Sequence[LoadSample], tell: Tell) -> None:
        """Observe samples, and in between what holds at every full minute."""
        first = 0
        while first < len(samples):
            at_s = samples[first].at_s
            if at_s > self._next_minute_s:
                self._pass_minutes(at_s, tell)
            if at_s >= self._next_minute_s or self._last is None:
                self._next_minute_s = _minute_after(at_s)
            until = bisect_left(samples, self._next_minute_s, first + 1, key=_at_s)
            self._observe(samples[first:until], tell)
            first = until

    def _pass_minutes(self, until_s: float, tell: Tell) -> None:
        """Repeat what holds at every full minute before `until_s`."""
        last = self._last
        while last is not None and (minute_s := self._next_minute_s) < until_s:
            if last.load_w is None:
                if self._silent_minutes >= _SILENT_MINUTES:
                    return
                self._silent_minutes += 1
            self._next_minute_s = _minute_after(minute_s)
            self._observe((last._replace(at_s=minute_s),), tell)

    def _observe(self, samples: Iterable[LoadSample], tell: Tell) -> None:
        """Observe samples of one and the same minute."""
        inference, before = self._inference, self._last
        for sample in samples:
            self._last = sample
            self._fresh.append(sample)
            inference.observe(sample)
            # Most readings are of sun and bank and change nothing for who draws what.
            if (
                before is None
                or sample.load_w != before.load_w
                or sample.at_s % MINUTE_S == 0.0
                or sample.metered_w != before.metered_w
                or sample.open_circuits != before.open_circuits
            ):
                if sample.load_w is not None:
                    self._silent_minutes = 0
                self.standby.observe(sample, inference.running)
            if inference.settled_until_s != self._settled_s:
                self._settle(tell)
            before = sample
        if len(self._fresh) >= _HANDED_OVER_AT_ONCE:
            self._hand_over()

    def _hand_over(self) -> None:
        """Let be added up what flowed, many samples at a time since that is faster."""
        if self._fresh:
            fresh, self._fresh = self._fresh, []
            self._cells.add_all(fresh)
            self._outlook.observe_all(fresh)
            self._bank_sign.observe_all(fresh)

    def _account(self, segment: Segment, cells: Iterable[Cell]) -> Flow:
        standby_w = partial(self.standby.standby_w, at_s=segment.start_s)
        return account(self.boat, segment, cells, standby_w)

    def _tell(self, event: Event, events: list[Event]) -> None:
        self._outlook.settle(event)
        events.append(event)

    def _settle(self, tell: Tell) -> None:
        segments = self._inference.take_settled()
        if not segments:
            return
        self._hand_over()
        events: list[Event] = []
        for segment in segments:
            cells = self._cells.take_until(segment.end_s)
            flow = self._account(segment, cells)
            self.totals.add(flow)
            self._settled_s = segment.end_s
            self.discovery.add(segment)
            self._tell(SpanSettled(segment, flow), events)
            self._meals.add_flow(flow)
            for run in self._runs.add(segment, flow):
                self._end_run(run, events)
        self._finish_meals(segments[-1].end_s, events)
        tell(events)

    def _end_run(self, run: Run, events: list[Event]) -> None:
        self._meals.add_run(run)
        self._tell(RunSettled(run), events)

    def _finish_meals(self, settled_s: float, events: list[Event]) -> None:
        open_runs = [run.as_run() for run in self._runs.open_runs]
        for meal in self._meals.take_finished(settled_s, open_runs):
            self._last_meal = meal
            self._tell(MealSettled(meal), events)

    def live(self) -> LiveView | None:
        """Return what is known now; None before the first sample."""
        last = self._last
        if last is None:
            return None
        self._hand_over()
        segments = self._inference.tentative()
        segment = segments[-1] if segments else None
        runs, meals = self._with_tentative(segments[:-1])
        if segment is not None:
            self._enter(segment, runs, meals)
        going_on = [run.as_run() for run in runs.open_runs]
        ended = meals.ended(last.at_s, going_on)
        return look(
            self.boat,
            last,
            segment,
            self._look_at_board(max(last.at_s, self._advanced_s)),
            partial(self.standby.standby_w, at_s=last.at_s),
            self.standby.unsplit_w,
            perhaps_running=self._inference.running,
            run_energy_wh={run.appliance: run.energy_wh for run in going_on},
            current_meal=meals.current(last.at_s, going_on),
            last_meal=ended[-1] if ended else self._last_meal,
            missing=self.missing,
            clock_set=self._clock_set,
        )

    def _with_tentative(
        self, segments: Sequence[Segment]
    ) -> tuple[RunBuilder, MealBuilder]:
        """Return runs and meals with what is not settled, for others to write in.

        What comes before the newest segment seldom differs from one look to the next, and
        accounting for it is most of the work: it is kept.
        """
        kept = self._tentative
        if (
            kept is None
            or kept[0] != self._settled_s
            or kept[1] != tuple(segments[: len(kept[1])])
        ):
            kept = (self._settled_s, (), self._runs.copy(), self._meals.copy())
        _, known, runs, meals = kept
        for segment in segments[len(known) :]:
            self._enter(segment, runs, meals)
        self._tentative = (self._settled_s, tuple(segments), runs, meals)
        return runs.copy(), meals.copy()

    def _enter(self, segment: Segment, runs: RunBuilder, meals: MealBuilder) -> None:
        """Account for a segment that may still change."""
        cells = self._cells.between(segment.start_s, segment.end_s)
        flow = self._account(segment, cells)
        meals.add_flow(flow)
        for run in runs.add(segment, flow):
            meals.add_run(run)

    def _look_at_board(self, at_s: float) -> Shown:
        inference = self._inference
        base_load = inference.base_load
        return self._board.look(
            at_s,
            inference.inferred_load_w,
            inference.possibilities(at_s),
            base_high_w=base_load.high_w,
            own_step=base_load.steps.knows,
        )

    def view(self) -> EngineView:
        """Return what is known now, as others may read it while the engine works on."""
        standby = self.standby
        appliances = [appliance.name for appliance in self.boat.appliances]
        circuits = [circuit.name for circuit in self.boat.circuits]
        return EngineView(
            live=self.live(),
            sample=self._last,
            settled_until_s=self._settled_s,
            learned=self._inference.learned,
            standby_w={name: standby.standby_w(name) for name in appliances},
            circuit_standby={name: standby.circuit_figure(name) for name in circuits},
            likely_standby_w={name: standby.likely_w(name) for name in circuits},
            load_floor_w=standby.load_floor_w,
        )

    def snapshot(self) -> EngineState:
        """Return the whole state as plain data, fit for JSON."""
        self._hand_over()
        return {
            "version": STATE_VERSION,
            "totals": self.totals.as_mapping(),
            "assembler": self._assembler.snapshot(),
            "inference": self._inference.snapshot(),
            "cells": self._cells.snapshot(),
            "standby": self.standby.snapshot(),
            "outlook": self._outlook.snapshot(),
            "discovery": self.discovery.snapshot(),
            "bank_sign": self._bank_sign.snapshot(),
            "runs": self._runs.snapshot(),
            "meals": self._meals.snapshot(),
            "last_meal": None
            if self._last_meal is None
            else meal_to_mapping(self._last_meal),
            "settled_s": self._settled_s,
            "silent_minutes": self._silent_minutes,
            "board": self._board.snapshot(),
            "clock_set": None if self._clock_set is None else row(self._clock_set),
        }

    @classmethod
    def from_state(cls, boat: Boat, state: object) -> Self:
        """Return the engine that `snapshot` described.

        Raises:
            StateError: the state is not one that this engine can read.
        """
        engine = cls(boat)
        engine.restore(state)
        return engine

    def restore(self, state: object) -> None:
        """Take back what `snapshot` gave, into a fresh engine of the same boat.

        Raises:
            StateError: the state is not one that this engine can read.
        """
        version = state.get("version") if isinstance(state, Mapping) else None
        if version != STATE_VERSION:
            raise StateError(f"engine state version {version!r} is not {STATE_VERSION}")
        stored = checked(EngineState, state)
        try:
            self._take_up(stored)
        except StateError:
            raise
        except (LookupError, ValueError, TypeError) as err:
            # Of the right types, but it names what is not there.
            raise StateError(
                f"stored state: not of the form of an engine: {type(err).__name__}: {err}"
            ) from err

    def _take_up(self, state: EngineState) -> None:
        self.totals = Totals.from_mapping(state["totals"])
        self._assembler.restore(state["assembler"])
        self._inference.restore(state["inference"])
        self.standby.restore(state["standby"])
        self._outlook.restore(state["outlook"])
        self.discovery.restore(state["discovery"])
        self._bank_sign.restore(state["bank_sign"])
        self._cells.restore(state["cells"])
        self._runs.restore(state["runs"])
        self._meals.restore(state["meals"])
        if state["last_meal"] is not None:
            self._last_meal = meal_from_mapping(state["last_meal"])
        self._settled_s = state["settled_s"]
        self._silent_minutes = state["silent_minutes"]
        self._board.restore(state["board"])
        if state["clock_set"] is not None:
            self._clock_set = from_row(ClockSet, state["clock_set"])
        if (last := self._cells.last) is not None:
            self._last = last
            self._next_minute_s = _minute_after(last.at_s)


def _minute_after(at_s: float) -> float:
    """Return the first full minute after a moment."""
    return (at_s // MINUTE_S + 1) * MINUTE_S


def run_through(engine: Engine, readings: Iterable[ReadingRow]) -> list[Event]:
    """Feed a whole history and finish; return everything that was settled."""
    events: list[Event] = []
    for some in batched(readings, READINGS_AT_ONCE, strict=False):
        engine.feed_all(some, events.extend)
    events.extend(engine.finish())
    return events
