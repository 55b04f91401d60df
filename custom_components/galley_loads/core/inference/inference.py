"""The whole of inference behind one door: load samples in, segments out."""

from collections.abc import Mapping
from dataclasses import replace
from math import inf
from typing import Final, TypedDict

from ..boat.boat import Boat
from ..metering.load_sample import LONGEST_BRIDGE_S, LoadSample
from ..stateful import Row, from_row, row
from .learning.learned_power import LearnedPower, PowerBelief, PowerBeliefState
from .learning.run_records import RunRecords, RunRecordsState
from .learning.signature import Signature
from .learning.usual_hours import UsualHours, UsualHoursState
from .model.activity import Segment
from .model.base_load import BaseLoad, BaseLoadState
from .model.dwell_time import chance_to_go_on, is_silent
from .model.hypothesis import UNNAMED, ActiveLoad, Hypothesis, PastStep, RunId
from .model.possibility import Possibility
from .model.state_machine import MachineState, build_machine, machine_of
from .model.unnamed_loads import (
    DESCRIPTION as UNNAMED_LOAD,
    UnnamedRate,
    UnnamedRateState,
)
from .own_meters import MeteredAppliance, MeteredApplianceState, with_metered
from .present_chances import PresentChances
from .review.run_shape import run_shapes
from .review.run_verdict import RunVerdict, Settled, run_verdicts
from .search.beam import Beam
from .search.extender import Extender
from .search.hypothesis_past import (
    past_after,
    run_confidence,
    segments,
    whole_runs_until,
)
from .search.hypothesis_state import HypothesesState, load_hypotheses, save_hypotheses
from .search.steady_states import SteadyState, SteadyStateFinder, SteadyStateFinderState

SETTLE_AFTER_S: Final = 1500.0
"""Judgement, s: with the
longest steady state and the next look a run is final within half an hour."""
LONGEST_OPEN_S: Final = 3600.0
"""Judgement, s: a run that goes on for longer than this is settled piece by piece."""
DENSE_PATH: Final = 1000
"""Judgement, steps: so is what pulses so fast that its past has more steps than this;
making an hour of them final at once would take long."""
SETTLE_EVERY_S: Final = 60.0
"""Judgement, s: how often it is looked for what can be made final."""
RELAY_AHEAD_S: Final = 15.0
"""Judgement, s: by how much a relay may be ahead of a load meter that reports every ten
seconds."""
BUSY_S: Final = 1500.0
"""Judgement, s: for so long after a run another one is likelier, as they come in
company."""
GOES_ON: Final = 0.5
"""Judgement, a chance: a silent run that goes on with less of it is shown as over."""


class InferenceState(TypedDict):
    """What `Inference` saves."""

    base_load: BaseLoadState
    unnamed: UnnamedRateState
    usual_hours: UsualHoursState
    finder: SteadyStateFinderState
    beliefs: dict[str, PowerBeliefState]
    metered: dict[str, MeteredApplianceState]
    signatures: list[Row]
    records: RunRecordsState
    beam: HypothesesState
    rejected: list[RunId]
    last_end_s: float
    settled: list[Row]
    open_circuits: list[str]
    shut_due_s: float | None
    now_s: float | None
    busy_s: float
    gap_since_s: float | None
    next_settle_s: float
    settled_until_s: float | None


class Inference:
    """Which appliance ran, and what it drew.

    Feed it load samples in the order of their times. The result depends on the sequence
    of samples alone.
    """

    def __init__(self, boat: Boat) -> None:
        """Prepare one state machine per appliance that has no meter of its own."""
        inferred = [a for a in boat.appliances if a.power_sensor is None]
        self._names = tuple(a.name for a in inferred)
        self._circuits = tuple(a.circuit for a in inferred)
        # That of unnamed loads comes last: their index is -1.
        self._machines = (
            *(build_machine(i, a) for i, a in enumerate(inferred)),
            machine_of(UNNAMED, UNNAMED_LOAD),
        )
        # The levels of unnamed loads are W, not shares of a rating.
        self._beliefs = tuple(
            PowerBelief(rated_w, machine.level_slots)
            for rated_w, machine in zip(
                (*(a.rated_power_w for a in inferred), 1.0), self._machines, strict=True
            )
        )
        self._standby_w = {a.name: a.standby_power_w for a in boat.appliances}
        self._metered = {
            a.name: MeteredAppliance(a)
            for a in boat.appliances
            if a.power_sensor is not None
        }
        self._base_load = BaseLoad()
        self._unnamed = UnnamedRate()
        self._usual_hours = UsualHours(inferred, boat.time_zone)
        self._finder = SteadyStateFinder()
        self._extender = Extender(
            self._machines,
            self._beliefs,
            self._base_load,
            self._unnamed,
            self._usual_hours,
        )
        self._beam = Beam(self._extender)
        self._present = self._looking_ahead()
        self._live_verdicts: dict[RunId, RunVerdict] = {}
        # What was explained last, and of which state of the hypotheses.
        self._explained_as: (
            tuple[tuple[int, frozenset[RunId], bool], list[Segment]] | None
        ) = None
        self._version = 0
        self._records = RunRecords(self._machines, self._beliefs, self._usual_hours)
        self._signatures: dict[str, Signature] = {}
        self._open_circuits: frozenset[str] = frozenset()
        self._shut_due_s: float | None = None
        self._before: tuple[ActiveLoad, ...] = ()
        self._rejected: frozenset[RunId] = frozenset()
        self._last_end_s = 0.0
        self._settled: list[Segment] = []
        self._now_s: float | None = None
        self._gap_since_s: float | None = None
        self._next_settle_s = 0.0
        self._busy_s = -BUSY_S
        self._running_loads: tuple[ActiveLoad, ...] = ()
        self._running_names: frozenset[str] = frozenset()
        self.settled_until_s: float | None = None

    @property
    def learned(self) -> Mapping[str, LearnedPower]:
        """Powers learnt from use, by appliance."""
        return {
            name: LearnedPower(belief.power_w, self._standby_w[name], belief.runs)
            for name, belief in zip(self._names, self._beliefs, strict=False)
        }

    @property
    def running(self) -> frozenset[str]:
        """Names of the appliances that run by what seems best now, or may go on.

        One that is silent counts until it is all but certain that it has ended;
        `tentative` shows it as over as soon as that is likelier than not.
        """
        best = self._beam.hypotheses
        loads = best[0].loads if best else ()
        if loads is not self._running_loads:
            self._running_loads = loads
            self._running_names = frozenset(
                self._names[p.index] for p in loads if p.index != UNNAMED
            )
        if not self._metered:
            return self._running_names
        metered = (
            name
            for name, meter in self._metered.items()
            if meter.stretches and meter.stretches[-1].run_start_s is not None
        )
        return self._running_names.union(metered)

    @property
    def signatures(self) -> Mapping[str, Signature]:
        """Signatures that the crew took in learn mode, by appliance."""
        return dict(self._signatures)

    def remember(self, signature: Signature) -> None:
        """Keep a signature and believe its power; KeyError for no inferred appliance."""
        self._belief(signature.appliance).take(signature.full_power_w)
        self._signatures[signature.appliance] = signature

    def forget(self, appliance: str) -> None:
        """Forget an appliance's signature and all powers learnt of it."""
        self._belief(appliance).forget()
        self._signatures.pop(appliance, None)

    def _belief(self, appliance: str) -> PowerBelief:
        if appliance not in self._names:
            raise KeyError(appliance)
        return self._beliefs[self._names.index(appliance)]

    def observe(self, sample: LoadSample) -> None:
        """Take the next load sample."""
        at_s = sample.at_s
        if self._now_s is None:
            self.settled_until_s = at_s
            self._next_settle_s = at_s + SETTLE_EVERY_S
        self._now_s = at_s
        if sample.open_circuits != self._open_circuits:
            self._switch(at_s, sample.open_circuits)
        if self._shut_due_s is not None and at_s >= self._shut_due_s:
            self._shut(at_s)
        load_w = sample.load_w
        if sample.metered_w:
            for name, power_w in sample.metered_w:
                meter = self._metered.get(name)
                if meter is not None:
                    meter.feed(at_s, power_w)
                    if load_w is not None and power_w is not None:
                        load_w -= power_w
        if load_w is None:
            self._gap(at_s)
            return
        if self._gap_since_s is not None:
            self._bridge(at_s)
        closed = self._finder.feed(at_s, load_w)
        if closed:
            for steady in closed:
                self._extend(steady)
            if at_s >= self._next_settle_s and self._beam.hypotheses:
                self._next_settle_s = at_s + SETTLE_EVERY_S
                self._settle(at_s - SETTLE_AFTER_S)

    def take_settled(self) -> list[Segment]:
        """Return the segments that became final since the last call, in order."""
        taken = self._settled
        self._settled = []
        return taken

    def tentative(self) -> list[Segment]:
        """Return what seems to have happened since `settled_until_s`."""
        if self.settled_until_s is None or self._now_s is None:
            return []
        found = self._explained() if self._beam.hypotheses else []
        end = found[-1].end_s if found else self.settled_until_s
        if self._now_s > end:
            found.append(Segment(end, self._now_s))
        return with_metered(found, self._metered)

    def _explained(self) -> list[Segment]:
        """Return what the best hypothesis says of the time since `settled_until_s`.

        Between two steps of the load only the newest segment grows.
        """
        best = self._beam.hypotheses[0]
        now_s, until = self._now_s or 0.0, self.settled_until_s or 0.0
        open_now = self._gap_since_s is None
        running = frozenset(
            load.run
            for load in best.loads
            if chance_to_go_on(load, self._state(load), now_s) >= GOES_ON
        )
        key = (self._version, running, open_now)
        if open_now and self._explained_as is not None and self._explained_as[0] == key:
            *before, newest = self._explained_as[1]
            return [*before, replace(newest, end_s=now_s)]
        self._explained_as = None
        past_steps = past_after(best.past, until)
        end = past_steps[-1].end_s if past_steps else until
        grows = open_now and now_s > end
        if grows:
            past_steps.append(
                PastStep(None, end, now_s, None, best.base_w, best.loads, False)
            )
        verdicts = self._verdicts(past_steps, running, live=True)
        self._live_verdicts = verdicts
        found = segments(
            self._machines,
            self._names,
            past_steps,
            self._before,
            _weighed(run_confidence(best, self._beam.hypotheses, past_steps), verdicts),
            running,
            _going_back(verdicts),
        )
        if grows:
            self._explained_as = key, found
        return list(found)

    def _looking_ahead(self) -> PresentChances:
        """Return what looks ahead of the hypotheses that are kept now."""
        return PresentChances(
            self._machines, self._names, self._finder, self._beam, self._prepare
        )

    def possibilities(self, at_s: float) -> list[Possibility]:
        """Return what may be going on at a time, the likeliest first; none in a gap.

        Call it after `tentative`, whose verdicts on the runs so far hold here as well.
        Appliances with a meter of their own are not part of it.
        """
        if self._gap_since_s is not None:
            return []
        return self._present.possibilities(at_s, self._live_verdicts)

    @property
    def inferred_load_w(self) -> float:
        """The newest load without what appliances' own meters show, W."""
        return self._finder.held_w

    @property
    def base_load(self) -> BaseLoad:
        """What is known of the load when nobody cooks."""
        return self._base_load

    def _state(self, load: ActiveLoad) -> MachineState:
        return self._machines[load.index].states[load.state]

    def _verdicts(
        self, path: list[PastStep], running: frozenset[RunId], *, live: bool
    ) -> dict[RunId, RunVerdict]:
        """Return the verdicts on the runs of a stretch of past."""
        return run_verdicts(
            self._machines,
            self._beliefs,
            run_shapes(self._machines, path),
            running,
            Settled({p.run for p in self._before}, self._rejected, self._last_end_s),
            live=live,
        )

    def finish(self) -> None:
        """Make everything final: the history ends here."""
        if self._now_s is None or self.settled_until_s is None:
            return
        self._close(self._gap_since_s or self._now_s)
        if self._now_s > self.settled_until_s:
            self._emit([Segment(self.settled_until_s, self._now_s)])

    def _switch(self, at_s: float, open_circuits: frozenset[str]) -> None:
        """Let nothing start on a dead circuit; what runs there ends within moments.

        A relay reports at once, a load meter only with its next reading: until then the
        load still shows what the circuit carried.
        """
        self._open_circuits = open_circuits
        live = tuple(circuit not in open_circuits for circuit in self._circuits)
        self._extender.live = live
        self._shut_due_s = None if all(live) else at_s + RELAY_AHEAD_S

    def _shut(self, at_s: float) -> None:
        """End what still seems to run on dead circuits."""
        self._shut_due_s = None
        for steady in self._finder.flush(at_s):
            self._extend(steady)
        live = self._extender.live
        self._version += 1
        self._beam.shut(frozenset(i for i, alive in enumerate(live) if not alive))

    def _prepare(self, steady: SteadyState) -> None:
        """Let the extender know the meter, and whether somebody is at work."""
        extender = self._extender
        extender.noise_w = self._finder.noise_w
        extender.period_s = min(10.0, self._finder.period_s)
        extender.meter_s = self._finder.period_s
        extender.busy = steady.start_s - self._busy_s < BUSY_S

    def _extend(self, steady: SteadyState) -> None:
        beam = self._beam
        self._prepare(steady)
        if not beam.hypotheses:
            base = self._base_load.usual(steady.level_w)
            beam.begin(base)
        beam.extend(steady)
        self._version += 1
        if beam.hypotheses[0].loads:
            self._busy_s = steady.end_s

    def _gap(self, at_s: float) -> None:
        if self._gap_since_s is None:
            for steady in self._finder.flush(at_s):
                self._extend(steady)
            self._gap_since_s = at_s
        elif at_s - self._gap_since_s > LONGEST_BRIDGE_S:
            if self._beam.hypotheses:
                self._close(self._gap_since_s)
            elif at_s >= self._next_settle_s:
                self._next_settle_s = at_s + SETTLE_EVERY_S
                self._settle_gap(at_s - SETTLE_AFTER_S)

    def _settle_gap(self, horizon_s: float) -> None:
        """Make a gap final up to a time: appliances with their own meter go on counting."""
        since = self.settled_until_s
        if since is not None and horizon_s > since:
            self._emit([Segment(since, horizon_s)])

    def _bridge(self, at_s: float) -> None:
        since = self._gap_since_s
        self._gap_since_s = None
        if since is None or self.settled_until_s is None:
            return
        if self._beam.hypotheses and at_s - since <= LONGEST_BRIDGE_S:
            if at_s > since:
                self._beam.bridge(since, at_s)
                self._version += 1
            return
        self._close(since)
        if at_s > self.settled_until_s:
            self._emit([Segment(self.settled_until_s, at_s)])

    def _close(self, at_s: float) -> None:
        """Make everything up to a time final and start anew after it."""
        for steady in self._finder.flush(at_s):
            self._extend(steady)
        if self._beam.hypotheses:
            self._settle(at_s, closing=True)
            self._records.end_all()
        self._beam.hypotheses = []
        self._version += 1
        self._before = ()
        self._rejected = frozenset()

    def _paused_since_s(self, best: Hypothesis) -> float:
        """Return since when a run pauses of which nobody knows whether it goes on.

        It is not settled before that shows; few kinds pause for longer than it takes to
        settle anyway.
        """
        return min(
            (
                load.since_s
                for load in best.loads
                if load.index != UNNAMED and is_silent(load, self._state(load))
            ),
            default=inf,
        )

    def _settle(self, horizon_s: float, *, closing: bool = False) -> None:
        beam = self._beam
        best = beam.hypotheses[0]
        if not closing:
            horizon_s = min(horizon_s, self._paused_since_s(best))
        path = past_after(best.past, self.settled_until_s or 0.0)
        if not path or path[0].end_s > horizon_s:
            return
        if not closing:
            longest_s = LONGEST_OPEN_S if len(path) <= DENSE_PATH else 0.0
            horizon_s = whole_runs_until(path, horizon_s, longest_s)
            if path[0].end_s > horizon_s:
                return
        confidence = run_confidence(best, beam.hypotheses, path)
        running = frozenset(p.run for p in best.loads)
        verdicts = self._verdicts(path, running, live=False)
        nobodys = _going_back(verdicts)
        confidence.update(dict.fromkeys(nobodys, 0.0))
        final = beam.cut(horizon_s)
        self._version += 1
        # What comes after shows how a run ends, but is reported again when it is final.
        found = segments(
            self._machines,
            self._names,
            path,
            self._before,
            _weighed(confidence, verdicts),
            frozenset(),
            nobodys,
            len(final),
        )
        self._records.add(final, best, confidence)
        for past_step in final:
            if past_step.edge or past_step.level_w is None:
                continue
            self._base_load.add(
                past_step.level_w,
                past_step.base_w,
                past_step.end_s - past_step.start_s,
                idle=not past_step.loads,
            )
        self._base_load.settle()
        self._unnamed.add(final)
        for past_step in final:
            if any(
                p.index != UNNAMED and p.run not in nobodys for p in past_step.loads
            ):
                self._last_end_s = past_step.end_s
        if final:
            self._before = final[-1].loads
            self._rejected = nobodys.intersection(p.run for p in self._before)
        self._emit(found)

    def _emit(self, found: list[Segment]) -> None:
        if not found:
            return
        self._settled.extend(with_metered(found, self._metered))
        self.settled_until_s = found[-1].end_s
        for meter in self._metered.values():
            meter.drop_before(self.settled_until_s)

    def start_over(self) -> None:
        """Forget what goes on and keep what was learnt: time has jumped.

        Call `finish` and `take_settled` before.
        """
        self._finder = SteadyStateFinder()
        self._beam = Beam(self._extender)
        self._present = self._looking_ahead()
        self._records.end_all()
        self._metered = {name: meter.anew() for name, meter in self._metered.items()}
        self._open_circuits = frozenset()
        self._extender.live = (True,) * len(self._circuits)
        self._shut_due_s = self._now_s = self._gap_since_s = None
        self.settled_until_s = None
        self._before = self._running_loads = ()
        self._rejected, self._running_names = frozenset(), frozenset()
        self._last_end_s = self._next_settle_s = 0.0
        self._busy_s = -BUSY_S

    def snapshot(self) -> InferenceState:
        """Return the whole state, JSON-able; `restore` takes it up exactly."""
        return {
            "base_load": self._base_load.snapshot(),
            "unnamed": self._unnamed.snapshot(),
            "usual_hours": self._usual_hours.snapshot(),
            "finder": self._finder.snapshot(),
            "beliefs": {
                name: belief.snapshot()
                for name, belief in zip(self._names, self._beliefs, strict=False)
            },
            "metered": {n: m.snapshot() for n, m in self._metered.items()},
            "signatures": [row(signature) for signature in self._signatures.values()],
            "records": self._records.snapshot(),
            "beam": save_hypotheses(
                [
                    *self._beam.hypotheses,
                    Hypothesis(0.0, 0.0, 0.0, self._before, None),
                ]
            ),
            "rejected": sorted(self._rejected),
            "last_end_s": self._last_end_s,
            "settled": [row(segment) for segment in self._settled],
            "open_circuits": sorted(self._open_circuits),
            "shut_due_s": self._shut_due_s,
            "now_s": self._now_s,
            "busy_s": self._busy_s,
            "gap_since_s": self._gap_since_s,
            "next_settle_s": self._next_settle_s,
            "settled_until_s": self.settled_until_s,
        }

    def restore(self, state: InferenceState) -> None:
        """Take over what `snapshot` gave, into a fresh one of the same boat."""
        self._base_load.restore(state["base_load"])
        self._unnamed.restore(state["unnamed"])
        self._usual_hours.restore(state["usual_hours"])
        self._finder.restore(state["finder"])
        for name, belief in zip(self._names, self._beliefs, strict=False):
            if name in state["beliefs"]:
                belief.restore(state["beliefs"][name])
        for name, meter in self._metered.items():
            if name in state["metered"]:
                meter.restore(state["metered"][name])
        for one in state["signatures"]:
            signature = from_row(Signature, one)
            if signature.appliance in self._names:
                self.remember(signature)
        self._records.restore(state["records"])
        hypotheses = load_hypotheses(state["beam"])
        self._before = hypotheses.pop().loads
        self._beam.hypotheses = hypotheses
        self._version += 1
        self._rejected = frozenset(state["rejected"])
        self._last_end_s = state["last_end_s"]
        self._settled = [from_row(Segment, one) for one in state["settled"]]
        self._open_circuits = frozenset(state["open_circuits"])
        self._shut_due_s = state["shut_due_s"]
        self._extender.live = tuple(
            circuit not in self._open_circuits for circuit in self._circuits
        )
        self._now_s = state["now_s"]
        self._busy_s = state["busy_s"]
        self._gap_since_s = state["gap_since_s"]
        self._next_settle_s = state["next_settle_s"]
        self.settled_until_s = state["settled_until_s"]


def _weighed(
    confidence: Mapping[RunId, float], verdicts: Mapping[RunId, RunVerdict]
) -> dict[RunId, float]:
    """Return the confidence of runs, that no hypothesis may be right considered."""
    return {
        run: sure * (verdicts[run].confidence_factor if run in verdicts else 1.0)
        for run, sure in confidence.items()
    }


def _going_back(verdicts: Mapping[RunId, RunVerdict]) -> frozenset[RunId]:
    """Return the runs that were nobody's after all."""
    return frozenset(run for run, verdict in verdicts.items() if verdict.goes_back)
