"""Grow an explanation by one plateau: apply its changes, follow its draws, charge time."""

from math import log
from typing import Final, NamedTuple

from ..model.base_load import RestingLevel
from ..model.bursts import remembered
from ..model.duty_cycle import CYCLES
from ..model.dwell_time import (
    is_silent,
    last_stay,
    overdue_cost,
    stay_law,
    stay_survival,
    survival_cost,
    with_stay,
)
from ..model.hypothesis import (
    NO_STAY,
    UNNAMED,
    Explanation,
    Moment,
    Part,
    RunSpan,
    Stays,
)
from ..model.state_machine import Machine
from .changes import (
    ALL_OFF,
    END,
    GO,
    RESTART,
    RESTING,
    SLIDE,
    START,
    UNNAMED_ON,
    Change,
)
from .steady_states import Plateau

REMEMBERED_S: Final = 3000.0
SETTLING_S: Final = 12.0
SETTLING_SHARE: Final = 0.025
PARTIAL_STAYS: Final = 6.0
"""Cost of a stay going on that was too short for the meter to show its whole draw."""
LONGEST_PAUSE_S: Final = 1800.0
ABOVE_COST_PER_S: Final = 0.003


class Candidate(NamedTuple):
    """One way to extend one explanation: changes with their share of the step in W."""

    cost: float
    source: Explanation
    changes: tuple[tuple[Change, float], ...]
    edge: bool


class Grower:
    """Builds the extended explanation of a candidate."""

    __slots__ = ("_machines", "_resting", "_wander")

    def __init__(self, machines: tuple[Machine, ...], resting: RestingLevel) -> None:
        """Hold the boat's machines and its resting level."""
        self._machines = machines
        self._resting = resting
        self._wander = tuple(
            tuple(state.wander for state in machine.states) for machine in machines
        )

    def wander_w(self, parts: tuple[Part, ...], at_s: float) -> float:
        """Return by how much the draws may stray from one plateau to the next, W."""
        fresh_s = at_s - SETTLING_S
        wander = 0.0
        for part in parts:
            wander += part.power_w * (
                SETTLING_SHARE
                if part.since_s > fresh_s
                else self._wander[part.index][part.state]
            )
        return wander

    def resting_share(
        self, source: Explanation, step: float, plateau: Plateau
    ) -> float:
        """Return how much of a small step the resting load would take, W."""
        total = 0.0
        fresh_s = plateau.start_s - SETTLING_S
        for part in source.parts:
            share = (
                SETTLING_SHARE
                if part.since_s > fresh_s
                else self._wander[part.index][part.state]
            )
            total += (part.power_w * share) ** 2
        return step * 2.0 / (2.0 + total)

    def grow(self, candidate: Candidate, plateau: Plateau) -> Explanation:
        """Return the extended explanation, dwell up to the plateau's end charged."""
        source = candidate.source
        if candidate.edge:
            past = Moment(
                source.past,
                plateau.start_s,
                plateau.end_s,
                plateau.level_w,
                source.base_w,
                source.parts,
                True,
            )
            grown = Explanation(
                candidate.cost,
                source.base_w,
                source.total_w,
                source.parts,
                past,
                source.runs,
                source.held + 1,
                source.held_since_s if source.held else plateau.start_s,
                source.held_ws + plateau.level_w * (plateau.end_s - plateau.start_s),
                source.bursts,
            )
        else:
            grown = self._changed(candidate, plateau)
            self._charge_resting(grown, candidate)
            self._charge_partial(grown, candidate)
            self._charge_shares(grown, candidate)
        self._charge(grown, plateau)
        return grown

    def _changed(self, candidate: Candidate, plateau: Plateau) -> Explanation:
        source = candidate.source
        step = plateau.level_w - source.total_w
        parts = source.parts
        base = source.base_w
        past = source.past
        bursts = source.bursts
        if candidate.changes:
            at_s = source.stepped_s(plateau.start_s, plateau.level_w)
            for change, amount in candidate.changes:
                if change.what == RESTING:
                    bursts = remembered(bursts, amount, at_s, change.part)
                parts, base = self._apply(
                    change, amount, source.parts, parts, base, at_s
                )
            if source.held and step > 0.0:
                past = _relabel(past, source.held, parts)
        else:
            parts, base = self._absorb(parts, base, step, plateau)
        total = base
        for part in parts:
            total += part.power_w
        return Explanation(
            candidate.cost,
            base,
            total,
            parts,
            Moment(
                past,
                plateau.start_s,
                plateau.end_s,
                plateau.level_w,
                base,
                parts,
                False,
            ),
            _ended(source, candidate, plateau),
            bursts=bursts,
        )

    def _absorb(
        self, parts: tuple[Part, ...], base: float, step: float, plateau: Plateau
    ) -> tuple[tuple[Part, ...], float]:
        """Share a small step among the resting load and the wandering draws."""
        if not parts or -1.0 < step < 1.0:
            return parts, base + step
        fresh_s = plateau.start_s - SETTLING_S
        weights = [
            (
                part.power_w
                * (
                    SETTLING_SHARE
                    if part.since_s > fresh_s
                    else self._wander[part.index][part.state]
                )
            )
            ** 2
            for part in parts
        ]
        total = 2.0 + sum(weights)
        changed: list[Part] = []
        for part, weight in zip(parts, weights, strict=True):
            share = step * weight / total
            if share > 0.5 or share < -0.5:
                share = max(share, -part.power_w)
                changed.append(self._moved(part, part.power_w + share))
                base -= share
            else:
                changed.append(part)
        return tuple(changed), base + step

    def _moved(self, part: Part, power: float) -> Part:
        """Return the part with its draw followed to a new power."""
        draws = part.draws
        slot = self._machines[part.index].states[part.state].slot
        known = draws[slot]
        # The part of a pulse that a meter showed is not its height.
        if known is not None and abs(part.power_w - known) < 0.1 * known + 5.0:
            draws = (*draws[:slot], power, *draws[slot + 1 :])
        return Part(
            part.index,
            part.state,
            power,
            part.since_s,
            part.run_start_s,
            draws,
            part.stays,
            (part.scale_s, part.shape, part.long_s),
            part.partial,
        )

    def _apply(
        self,
        change: Change,
        amount: float,
        old: tuple[Part, ...],
        parts: tuple[Part, ...],
        base: float,
        at_s: float,
    ) -> tuple[tuple[Part, ...], float]:
        what = change.what
        if what == RESTING:
            return parts, base + amount
        if what == ALL_OFF:
            return (), base + amount + sum(part.power_w for part in old)
        if what in (START, UNNAMED_ON):
            machine = self._machines[change.who]
            power = amount
            if not change.partial:
                power, base = _bounded(machine, change.state, amount, base)
            return (*parts, _entered(machine, change, power, at_s, None)), base
        target = old[change.part]
        rest = tuple(part for part in parts if part is not target)
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

    def _charge_resting(self, grown: Explanation, candidate: Candidate) -> None:
        """Charge what a change left over and pushed onto the resting load.

        Steps of the resting load itself are charged where they are proposed.
        """
        if not candidate.changes or candidate.changes[0][0].what in (RESTING, ALL_OFF):
            return
        before = self._resting.excess(candidate.source.base_w)
        after = self._resting.excess(grown.base_w)
        if after > before:
            grown.cost += 0.5 * (after * after - before * before)

    @staticmethod
    def _charge_partial(grown: Explanation, candidate: Candidate) -> None:
        """Charge stays that go on though they were too short for the meter to show."""
        for part in candidate.source.parts:
            if part.partial and any(
                p.index == part.index and p.since_s == part.since_s for p in grown.parts
            ):
                grown.cost += PARTIAL_STAYS

    def _charge_shares(self, grown: Explanation, candidate: Candidate) -> None:
        """Charge what share of the time a regulator heats, once it is known."""
        for change, _ in candidate.changes:
            if change.what != GO or change.who == UNNAMED:
                continue
            before = candidate.source.parts[change.part]
            states = self._machines[change.who].states
            pause, pulses = states[change.state], states[before.state].alike
            law = pause.shares.get(before.state)
            if law is None or before.stays[pulses][0] != CYCLES - 1:
                continue
            for part in grown.parts:
                if part.index == change.who and part.state == change.state:
                    count, mean, _, _ = part.stays[pause.alike]
                    if count and part.stays[pulses][0] == CYCLES:
                        grown.cost += law.cost(part.stays[pulses][1] - mean)

    def _charge(self, grown: Explanation, plateau: Plateau) -> None:
        """Charge the plateau's length, and end pauses that will not end by themselves."""
        start, end = plateau.start_s, plateau.end_s
        cost = grown.cost
        over: list[Part] = []
        for part in grown.parts:
            since = part.since_s
            machine = self._machines[part.index]
            state = machine.states[part.state]
            cost += overdue_cost(part.run_start_s, start, end, machine.run_long_s)
            if state.alike >= 0:
                cost += survival_cost(
                    part.run_start_s, start, end, machine.run_scale_s, machine.run_shape
                )
                if part.stays[state.alike][0]:
                    cost += machine.unrest_per_s * (end - start)
            if is_silent(part, state):
                off = last_stay(part, state)[0]
                s0 = (1.0 - off) * stay_survival(part, state, start - since)
                s1 = (1.0 - off) * stay_survival(part, state, end - since)
                cost += log((s0 + off) / (s1 + off))
                longest = max(LONGEST_PAUSE_S, state.long_s)
                if s1 < 0.02 * off or end - since > longest:
                    over.append(part)
            else:
                cost += log(
                    stay_survival(part, state, start - since)
                    / stay_survival(part, state, end - since)
                )
                cost += overdue_cost(since, start, end, state.long_s)
        excess = self._resting.excess(grown.base_w)
        if excess > 0.0:
            cost += ABOVE_COST_PER_S * excess * (end - start)
        grown.cost = cost
        for part in over:
            grown.runs = (*grown.runs, (part.index, part.run_start_s, part.since_s))
            grown.parts = tuple(p for p in grown.parts if p is not part)
            grown.base_w += part.power_w


def _ended(
    source: Explanation, candidate: Candidate, plateau: Plateau
) -> tuple[RunSpan, ...]:
    """Return the explanation's recent runs with those that the candidate ends."""
    runs = source.runs
    if runs and runs[0][2] < plateau.end_s - REMEMBERED_S:
        runs = runs[1:]
    for change, _ in candidate.changes:
        if change.what == ALL_OFF:
            runs = (
                *runs,
                *(
                    (part.index, part.run_start_s, plateau.start_s)
                    for part in source.parts
                    if part.index != UNNAMED
                ),
            )
        if change.what in (END, RESTART) and change.who != UNNAMED:
            part = source.parts[change.part]
            end_s = part.since_s if change.what == RESTART else plateau.start_s
            runs = (*runs, (part.index, part.run_start_s, end_s))
    return runs


def _entered(
    machine: Machine, change: Change, power: float, at_s: float, source: Part | None
) -> Part:
    """Return the part in its new state, `source` being the run as it was.

    A partial pulse is not remembered.
    """
    state = machine.states[change.state]
    if source is None:
        run_start_s = at_s
        draws: tuple[float | None, ...] = (None,) * machine.slots
        stays: Stays = (NO_STAY,) * machine.alike
    else:
        run_start_s = source.run_start_s
        draws = source.draws
        stays = source.stays
        slot = machine.states[source.state].alike
        if slot >= 0 and at_s > source.since_s:
            stays = with_stay(stays, slot, at_s - source.since_s, change.state)
    if not change.partial:
        draws = (*draws[: state.slot], power, *draws[state.slot + 1 :])
    return Part(
        machine.number,
        change.state,
        power,
        at_s,
        run_start_s,
        draws,
        stays,
        stay_law(state, stays),
        change.partial,
    )


def _bounded(
    machine: Machine, state: int, power: float, base: float
) -> tuple[float, float]:
    """Keep a small draw small; what is over belongs to the resting load."""
    entered = machine.states[state]
    high = 1.2 * entered.high if entered.draw == "small" else 1e9
    kept = min(max(power, 0.0), high)
    return kept, base + power - kept


def _relabel(past: Moment | None, held: int, parts: tuple[Part, ...]) -> Moment | None:
    """Give the edges of an upward step to what it switched on."""
    if held == 0 or past is None:
        return past
    parent = _relabel(past.parent, held - 1, parts)
    return Moment(
        parent, past.start_s, past.end_s, past.level_w, past.base_w, parts, True
    )
