"""Grow a hypothesis by one steady state: apply its changes, follow its draws, charge time."""

from math import log
from typing import Final, NamedTuple

from ..model.base_load import BaseLoad
from ..model.bursts import remembered
from ..model.duty_cycle import CYCLES
from ..model.dwell_time import (
    dwell_law,
    dwell_survival,
    is_silent,
    last_dwell,
    overdue_cost,
    survival_cost,
    with_dwell,
)
from ..model.hypothesis import (
    NO_DWELL,
    UNNAMED,
    ActiveLoad,
    Dwells,
    Hypothesis,
    PastStep,
    RunSpan,
)
from ..model.state_machine import StateMachine
from .change import (
    ALL_OFF,
    BASE_LOAD,
    END,
    GO,
    RESTART,
    SLIDE,
    START,
    UNNAMED_ON,
    Change,
)
from .hypothesis_past import REMEMBERED_S
from .steady_states import SteadyState

SETTLING_S: Final = 12.0
"""Judgement, s: for how long a draw that came on settles."""
SETTLING_SHARE: Final = 0.025
"""Judgement, a share of the draw: by how much it strays meanwhile."""
PARTIAL_GOES_ON: Final = 6.0
"""Judgement, a cost: of a dwell going on that was too short for the meter to show its
whole draw."""
LONGEST_PAUSE_S: Final = 1800.0
"""Judgement, s: a pause that cannot be seen and lasts longer was the end."""
ABOVE_COST_PER_S: Final = 0.003
"""Judgement, a cost per s and width of the range: of a base load outside of its
range."""


class Candidate(NamedTuple):
    """One way to extend one hypothesis: changes with their share of the step in W."""

    cost: float
    source: Hypothesis
    changes: tuple[tuple[Change, float], ...]
    edge: bool


class Grower:
    """Builds the extended hypothesis of a candidate."""

    __slots__ = ("_base_load", "_machines", "_wander")

    def __init__(self, machines: tuple[StateMachine, ...], base_load: BaseLoad) -> None:
        """Hold the boat's machines and its base load."""
        self._machines = machines
        self._base_load = base_load
        self._wander = tuple(
            tuple(state.wander for state in machine.states) for machine in machines
        )

    def wander_w(self, loads: tuple[ActiveLoad, ...], at_s: float) -> float:
        """Return by how much the draws may stray from one steady state to the next, W."""
        fresh_s = at_s - SETTLING_S
        wander = 0.0
        for load in loads:
            wander += load.power_w * (
                SETTLING_SHARE
                if load.since_s > fresh_s
                else self._wander[load.index][load.state]
            )
        return wander

    def base_load_part(
        self, source: Hypothesis, step: float, steady: SteadyState
    ) -> float:
        """Return how much of a small step the base load would take, W."""
        total = 0.0
        fresh_s = steady.start_s - SETTLING_S
        for load in source.loads:
            share = (
                SETTLING_SHARE
                if load.since_s > fresh_s
                else self._wander[load.index][load.state]
            )
            total += (load.power_w * share) ** 2
        return step * 2.0 / (2.0 + total)

    def grow(self, candidate: Candidate, steady: SteadyState) -> Hypothesis:
        """Return the extended hypothesis, dwell up to the steady state's end charged."""
        source = candidate.source
        if candidate.edge:
            past = PastStep(
                source.past,
                steady.start_s,
                steady.end_s,
                steady.level_w,
                source.base_w,
                source.loads,
                True,
            )
            grown = Hypothesis(
                candidate.cost,
                source.base_w,
                source.total_w,
                source.loads,
                past,
                source.runs,
                source.held + 1,
                source.held_since_s if source.held else steady.start_s,
                source.held_ws + steady.level_w * (steady.end_s - steady.start_s),
                source.bursts,
            )
        else:
            grown = self._changed(candidate, steady)
            self._charge_base_load(grown, candidate)
            self._charge_partial(grown, candidate)
            self._charge_duty_cycles(grown, candidate)
        self._charge(grown, steady)
        return grown

    def _changed(self, candidate: Candidate, steady: SteadyState) -> Hypothesis:
        source = candidate.source
        step = steady.level_w - source.total_w
        loads = source.loads
        base = source.base_w
        past = source.past
        bursts = source.bursts
        if candidate.changes:
            at_s = source.stepped_s(steady.start_s, steady.level_w)
            for change, amount in candidate.changes:
                if change.what == BASE_LOAD:
                    bursts = remembered(bursts, amount, at_s, change.load)
                loads, base = self._apply(
                    change, amount, source.loads, loads, base, at_s
                )
            if source.held and step > 0.0:
                past = _relabel(past, source.held, loads)
        else:
            loads, base = self._absorb(loads, base, step, steady)
        total = base
        for load in loads:
            total += load.power_w
        return Hypothesis(
            candidate.cost,
            base,
            total,
            loads,
            PastStep(
                past,
                steady.start_s,
                steady.end_s,
                steady.level_w,
                base,
                loads,
                False,
            ),
            _ended(source, candidate, steady),
            bursts=bursts,
        )

    def _absorb(
        self,
        loads: tuple[ActiveLoad, ...],
        base: float,
        step: float,
        steady: SteadyState,
    ) -> tuple[tuple[ActiveLoad, ...], float]:
        """Share a small step among the base load and the wandering draws."""
        if not loads or -1.0 < step < 1.0:
            return loads, base + step
        fresh_s = steady.start_s - SETTLING_S
        weights = [
            (
                load.power_w
                * (
                    SETTLING_SHARE
                    if load.since_s > fresh_s
                    else self._wander[load.index][load.state]
                )
            )
            ** 2
            for load in loads
        ]
        total = 2.0 + sum(weights)
        changed: list[ActiveLoad] = []
        for load, weight in zip(loads, weights, strict=True):
            share = step * weight / total
            if share > 0.5 or share < -0.5:
                share = max(share, -load.power_w)
                changed.append(self._moved(load, load.power_w + share))
                base -= share
            else:
                changed.append(load)
        return tuple(changed), base + step

    def _moved(self, load: ActiveLoad, power: float) -> ActiveLoad:
        """Return the load with its draw followed to a new power."""
        draws = load.draws
        slot = self._machines[load.index].states[load.state].slot
        known = draws[slot]
        # The part of a pulse that a meter showed is not its height.
        if known is not None and abs(load.power_w - known) < 0.1 * known + 5.0:
            draws = (*draws[:slot], power, *draws[slot + 1 :])
        return ActiveLoad(
            load.index,
            load.state,
            power,
            load.since_s,
            load.run_start_s,
            draws,
            load.dwells,
            (load.scale_s, load.shape, load.long_s),
            load.partial,
        )

    def _apply(
        self,
        change: Change,
        amount: float,
        old: tuple[ActiveLoad, ...],
        loads: tuple[ActiveLoad, ...],
        base: float,
        at_s: float,
    ) -> tuple[tuple[ActiveLoad, ...], float]:
        what = change.what
        if what == BASE_LOAD:
            return loads, base + amount
        if what == ALL_OFF:
            return (), base + amount + sum(load.power_w for load in old)
        if what in (START, UNNAMED_ON):
            machine = self._machines[change.who]
            power = amount
            if not change.partial:
                power, base = _bounded(machine, change.state, amount, base)
            return (*loads, _entered(machine, change, power, at_s, None)), base
        target = old[change.load]
        rest = tuple(load for load in loads if load is not target)
        if what == END:
            return rest, base + amount + target.power_w
        if what == SLIDE:
            return (*rest, self._moved(target, target.power_w + amount)), base
        machine = self._machines[change.who]
        power = target.power_w + amount
        if not change.partial:
            power, base = _bounded(machine, change.state, power, base)
        source = None if what == RESTART else target
        return (*rest, _entered(machine, change, power, at_s, source)), base

    def _charge_base_load(self, grown: Hypothesis, candidate: Candidate) -> None:
        """Charge what a change left over and pushed onto the base load.

        Steps of the base load itself are charged where they are proposed.
        """
        if not candidate.changes or candidate.changes[0][0].what in (
            BASE_LOAD,
            ALL_OFF,
        ):
            return
        before = self._base_load.excess(candidate.source.base_w)
        after = self._base_load.excess(grown.base_w)
        if after > before:
            grown.cost += 0.5 * (after * after - before * before)

    @staticmethod
    def _charge_partial(grown: Hypothesis, candidate: Candidate) -> None:
        """Charge dwells that go on though they were too short for the meter to show."""
        for load in candidate.source.loads:
            if load.partial and any(
                p.index == load.index and p.since_s == load.since_s for p in grown.loads
            ):
                grown.cost += PARTIAL_GOES_ON

    def _charge_duty_cycles(self, grown: Hypothesis, candidate: Candidate) -> None:
        """Charge what duty cycle a regulator heats, once it is known."""
        for change, _ in candidate.changes:
            if change.what != GO or change.who == UNNAMED:
                continue
            before = candidate.source.loads[change.load]
            states = self._machines[change.who].states
            pause, pulses = states[change.state], states[before.state].alike
            law = pause.duty_cycles.get(before.state)
            if law is None or before.dwells[pulses][0] != CYCLES - 1:
                continue
            for load in grown.loads:
                if load.index == change.who and load.state == change.state:
                    count, mean, _, _ = load.dwells[pause.alike]
                    if count and load.dwells[pulses][0] == CYCLES:
                        grown.cost += law.cost(load.dwells[pulses][1] - mean)

    def _charge(self, grown: Hypothesis, steady: SteadyState) -> None:
        """Charge the steady state's length, and end pauses that will not end by themselves."""
        start, end = steady.start_s, steady.end_s
        cost = grown.cost
        over: list[ActiveLoad] = []
        for load in grown.loads:
            since = load.since_s
            machine = self._machines[load.index]
            state = machine.states[load.state]
            cost += overdue_cost(load.run_start_s, start, end, machine.run_long_s)
            if state.alike >= 0:
                cost += survival_cost(
                    load.run_start_s, start, end, machine.run_scale_s, machine.run_shape
                )
                if load.dwells[state.alike][0]:
                    cost += machine.unrest_per_s * (end - start)
            if is_silent(load, state):
                off = last_dwell(load, state)[0]
                s0 = (1.0 - off) * dwell_survival(load, state, start - since)
                s1 = (1.0 - off) * dwell_survival(load, state, end - since)
                cost += log((s0 + off) / (s1 + off))
                longest = max(LONGEST_PAUSE_S, state.long_s)
                if s1 < 0.02 * off or end - since > longest:
                    over.append(load)
            else:
                cost += log(
                    dwell_survival(load, state, start - since)
                    / dwell_survival(load, state, end - since)
                )
                cost += overdue_cost(since, start, end, state.long_s)
        excess = self._base_load.excess(grown.base_w)
        if excess > 0.0:
            cost += ABOVE_COST_PER_S * excess * (end - start)
        grown.cost = cost
        for load in over:
            grown.runs = (*grown.runs, (load.index, load.run_start_s, load.since_s))
            grown.loads = tuple(p for p in grown.loads if p is not load)
            grown.base_w += load.power_w


def _ended(
    source: Hypothesis, candidate: Candidate, steady: SteadyState
) -> tuple[RunSpan, ...]:
    """Return the hypothesis's recent runs with those that the candidate ends."""
    runs = source.runs
    if runs and runs[0][2] < steady.end_s - REMEMBERED_S:
        runs = runs[1:]
    for change, _ in candidate.changes:
        if change.what == ALL_OFF:
            runs = (
                *runs,
                *(
                    (load.index, load.run_start_s, steady.start_s)
                    for load in source.loads
                    if load.index != UNNAMED
                ),
            )
        if change.what in (END, RESTART) and change.who != UNNAMED:
            load = source.loads[change.load]
            end_s = load.since_s if change.what == RESTART else steady.start_s
            runs = (*runs, (load.index, load.run_start_s, end_s))
    return runs


def _entered(
    machine: StateMachine,
    change: Change,
    power: float,
    at_s: float,
    source: ActiveLoad | None,
) -> ActiveLoad:
    """Return the load in its new state, `source` being the run as it was.

    A partial pulse is not remembered.
    """
    state = machine.states[change.state]
    if source is None:
        run_start_s = at_s
        draws: tuple[float | None, ...] = (None,) * machine.slots
        dwells: Dwells = (NO_DWELL,) * machine.alike
    else:
        run_start_s = source.run_start_s
        draws = source.draws
        dwells = source.dwells
        slot = machine.states[source.state].alike
        if slot >= 0 and at_s > source.since_s:
            dwells = with_dwell(dwells, slot, at_s - source.since_s, change.state)
    if not change.partial:
        draws = (*draws[: state.slot], power, *draws[state.slot + 1 :])
    return ActiveLoad(
        machine.number,
        change.state,
        power,
        at_s,
        run_start_s,
        draws,
        dwells,
        dwell_law(state, dwells),
        change.partial,
    )


def _bounded(
    machine: StateMachine, state: int, power: float, base: float
) -> tuple[float, float]:
    """Keep a small draw small; what is over belongs to the base load."""
    entered = machine.states[state]
    high = 1.2 * entered.high if entered.draw == "small" else 1e9
    kept = min(max(power, 0.0), high)
    return kept, base + power - kept


def _relabel(
    past: PastStep | None, held: int, loads: tuple[ActiveLoad, ...]
) -> PastStep | None:
    """Give the edges of an upward step to what it switched on."""
    if held == 0 or past is None:
        return past
    parent = _relabel(past.parent, held - 1, loads)
    return PastStep(
        parent, past.start_s, past.end_s, past.level_w, past.base_w, loads, True
    )
