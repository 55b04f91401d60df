"""Extend one explanation by one plateau in all likely ways.

A step between plateaus is explained by nothing (noise, a wandering draw), by the meter
having caught an edge half-way, by a step of the resting load, or by one or two changes of
running loads. Costs are -log probabilities: the hazard of each change over the meter's
period, and the density of the step under what the change predicts.
"""

from math import log, log1p
from typing import Final, NamedTuple

from .explanation import UNNAMED, Explanation, Moment, Part
from .learned import PowerBelief
from .machine import SILENT_W, Machine
from .plateaus import Plateau
from .resting import RestingLevel

LOG_ROOT_TAU: Final = 0.9189385332046727
UNNAMED_SLOTS: Final = 2
UNNAMED_RATE_PER_S: Final = 6.0 / 86400.0
UNNAMED_LOW_W: Final = 60.0
UNNAMED_HIGH_W: Final = 4000.0
MIDDLE_W: Final = 600.0
UNNAMED_SCALE_S: Final = (20.0 * 7200.0) ** 0.5
UNNAMED_SHAPE: Final = 4.394449154672439 / 5.886104031450156
RESTING_RATE_PER_S: Final = 80.0 / 86400.0
RESTING_STEP_W: Final = 60.0
EDGE_COST: Final = 1.5
LONGEST_EDGE: Final = 3
PARTIAL_COST: Final = 1.2
FRESH_COST: Final = 2.0
OVERLOOKED_W: Final = 70.0
REMEMBERED_S: Final = 3000.0
SETTLING_S: Final = 12.0
SETTLING_SHARE: Final = 0.025
WANDER_SHARE: Final = 0.004

GO: Final = 0
END: Final = 1
START: Final = 2
RESTART: Final = 3
UNNAMED_ON: Final = 4
RESTING: Final = 5


class Change(NamedTuple):
    """One change of one load that would make a step.

    With `spread_w` > 0 the step is `step_w` with that standard deviation, otherwise it is
    anything between `low_w` and `high_w`, the cost of the width included.
    """

    cost: float
    step_w: float
    spread_w: float
    low_w: float
    high_w: float
    what: int
    part: int
    who: int
    state: int
    partial: bool = False


class Candidate(NamedTuple):
    """One way to extend one explanation."""

    cost: float
    source: Explanation
    changes: tuple[tuple[Change, float], ...]
    edge: bool


def huber(z: float) -> float:
    """Return the cost of a deviation of `z` standard deviations, with a heavy tail."""
    if z < 0.0:
        z = -z
    return 0.5 * z * z if z < 3.0 else 3.0 * z - 4.5


def survival_cost(
    since_s: float, from_s: float, to_s: float, m: float, k: float
) -> float:
    """Return the cost of a dwell going on from one time to another (log-logistic)."""
    before = from_s - since_s
    x0 = (before / m) ** k if before > 0.0 else 0.0
    return log1p(((to_s - since_s) / m) ** k) - log1p(x0)


def overdue_cost(since_s: float, from_s: float, to_s: float, long_s: float) -> float:
    """Return the further cost of a dwell that lasts beyond nine of ten."""
    over = to_s - since_s - long_s
    return 0.0 if over <= 0.0 else min(over, to_s - from_s) / long_s


class Extender:
    """All that an extension needs to know of the boat."""

    __slots__ = (
        "beliefs",
        "live",
        "machines",
        "noise_w",
        "period_s",
        "resting",
        "short",
    )

    def __init__(
        self,
        machines: tuple[Machine, ...],
        beliefs: tuple[PowerBelief, ...],
        resting: RestingLevel,
    ) -> None:
        """Hold the boat's machines and what is learnt of them."""
        self.machines = machines
        self.beliefs = beliefs
        self.resting = resting
        self.live: tuple[bool, ...] = tuple(True for _ in machines)
        self.noise_w = 1.5
        self.period_s = 2.0
        self.short = False

    def candidates(
        self, source: Explanation, plateau: Plateau, limit: float
    ) -> list[Candidate]:
        """Return the ways to extend an explanation that cost less than `limit`."""
        step = plateau.level_w - source.total_w
        wander = 1.0
        fresh_s = plateau.start_s - SETTLING_S
        for part in source.parts:
            wander += (
                SETTLING_SHARE if part.since_s > fresh_s else WANDER_SHARE
            ) * part.power_w
        base_sd = (2.0 * self.noise_w * self.noise_w + wander * wander) ** 0.5
        cost = source.cost
        resting = self.resting
        before = 0.5 * resting.excess(source.base_w) ** 2
        found = [
            Candidate(
                cost + huber(step / base_sd) + log(base_sd) + LOG_ROOT_TAU,
                source,
                (),
                False,
            )
        ]
        size = step if step >= 0.0 else -step
        self._silent_ends(source, plateau, step, base_sd, found)
        if size < 4.0 or size < 2.2 * base_sd:
            return found
        if plateau.short and source.held < LONGEST_EDGE:
            found.append(
                Candidate(cost + EDGE_COST + log(size + 10.0), source, (), True)
            )
        fixed, free = self._changes(source, plateau, base_sd)
        # A step of the resting load: the fridge, a lamp, a pump.
        after = 0.5 * resting.excess(source.base_w + step) ** 2
        small = size / RESTING_STEP_W
        price = min(small + log(2.0 * RESTING_STEP_W), 10.5)
        price -= log(RESTING_RATE_PER_S * self.period_s)
        found.append(
            Candidate(
                cost + price + after - before,
                source,
                ((Change(price, step, 0.0, step, step, RESTING, -1, 0, 0), step),),
                False,
            )
        )
        best = limit
        for change in fixed:
            total = cost + change.cost + log(change.spread_w) + LOG_ROOT_TAU
            if total > best:
                continue
            total += huber((step - change.step_w) / change.spread_w)
            if total < best:
                found.append(Candidate(total, source, ((change, step),), False))
        for change in free:
            if change.low_w <= step <= change.high_w:
                total = cost + change.cost
                if change.what == UNNAMED_ON:
                    total += log(step / MIDDLE_W)
                if total < best:
                    found.append(Candidate(total, source, ((change, step),), False))
        self._pairs(source, step, fixed, free, best, found)
        return found

    def _pairs(
        self,
        source: Explanation,
        step: float,
        fixed: list[Change],
        free: list[Change],
        limit: float,
        found: list[Candidate],
    ) -> None:
        """Add the ways in which two loads change in one step."""
        cost = source.cost
        fixed.sort()
        free.sort()
        count = len(fixed)
        for i in range(count):
            one = fixed[i]
            room = limit - cost - one.cost
            if room < 0.0:
                break
            left = step - one.step_w
            for j in range(i + 1, count):
                two = fixed[j]
                if two.cost > room:
                    break
                gap = left - two.step_w
                spread = one.spread_w + two.spread_w
                if gap > 4.0 * spread or gap < -4.0 * spread:
                    continue
                if not _together(one, two):
                    continue
                v1 = one.spread_w * one.spread_w
                v2 = two.spread_w * two.spread_w
                sd = (v1 + v2) ** 0.5
                total = cost + one.cost + two.cost + huber(gap / sd) + log(sd)
                total += LOG_ROOT_TAU
                if total < limit:
                    share = gap * v1 / (v1 + v2)
                    found.append(
                        Candidate(
                            total,
                            source,
                            (
                                (one, one.step_w + share),
                                (two, two.step_w + gap - share),
                            ),
                            False,
                        )
                    )
            for two in free:
                if two.cost > room:
                    break
                if two.low_w <= left <= two.high_w and _together(one, two):
                    total = cost + one.cost + two.cost
                    if two.what == UNNAMED_ON:
                        total += log(left / MIDDLE_W)
                    found.append(
                        Candidate(
                            total,
                            source,
                            ((one, one.step_w), (two, left)),
                            False,
                        )
                    )

    def _changes(
        self, source: Explanation, plateau: Plateau, base_sd: float
    ) -> tuple[list[Change], list[Change]]:
        """Return the single changes with a known step, and those with a range of steps."""
        fixed: list[Change] = []
        free: list[Change] = []
        at_s = plateau.start_s
        self.short = plateau.short
        period = self.period_s
        base_var = base_sd * base_sd
        log_period = log(period)
        running = set()
        unnamed = 0
        for number, part in enumerate(source.parts):
            power = part.power_w
            age = at_s - part.since_s
            age = max(age, 0.5 * period)
            if part.index == UNNAMED:
                unnamed += 1
                x = (age / UNNAMED_SCALE_S) ** UNNAMED_SHAPE
                hazard = UNNAMED_SHAPE / age * x / (1.0 + x)
                sd = (base_var + (0.012 * power) ** 2) ** 0.5
                fixed.append(
                    Change(
                        -log(hazard) - log_period,
                        -power,
                        sd,
                        0.0,
                        0.0,
                        END,
                        number,
                        UNNAMED,
                        0,
                    )
                )
                continue
            running.add(part.index)
            machine = self.machines[part.index]
            state = machine.states[part.state]
            x = (age / state.scale_s) ** state.shape
            hazard = state.shape / age * x / (1.0 + x)
            leave = -log(hazard) - log_period
            off = state.off_chance
            if power < SILENT_W and state.draw == "small":
                survival = 1.0 / (1.0 + x)
                mix = survival * (1.0 - off) + off
                leave += log(mix / survival)
                if off > 0.0:
                    self._starts(
                        machine,
                        number,
                        power,
                        RESTART,
                        -log(off / mix) - log_period,
                        base_var,
                        fixed,
                        free,
                    )
            if off > 0.0 and (power >= 3.0 or state.draw != "small"):
                sd = (base_var + (0.010 * power) ** 2) ** 0.5
                fixed.append(
                    Change(
                        leave - log(off),
                        -power,
                        sd,
                        0.0,
                        0.0,
                        END,
                        number,
                        part.index,
                        0,
                    )
                )
            for follow in state.follows:
                self._draws(
                    machine,
                    follow.state,
                    part.draws,
                    power,
                    leave + follow.cost,
                    GO,
                    number,
                    base_var,
                    fixed,
                    free,
                    part.state,
                )
        for machine in self.machines:
            index = machine.number
            if index in running or not self.live[index]:
                continue
            self._starts(machine, -1, 0.0, START, -log_period, base_var, fixed, free)
        if unnamed < UNNAMED_SLOTS:
            width = log(UNNAMED_HIGH_W / UNNAMED_LOW_W)
            # The density of a log-uniform power is settled when the step is known; a
            # middle power stands for it here.
            free.append(
                Change(
                    -log(UNNAMED_RATE_PER_S) - log_period + log(width) + log(MIDDLE_W),
                    0.0,
                    0.0,
                    UNNAMED_LOW_W,
                    UNNAMED_HIGH_W,
                    UNNAMED_ON,
                    -1,
                    UNNAMED,
                    0,
                )
            )
        return fixed, free

    def _starts(
        self,
        machine: Machine,
        number: int,
        power: float,
        what: int,
        cost: float,
        base_var: float,
        fixed: list[Change],
        free: list[Change],
    ) -> None:
        cost -= log(machine.start_rate_per_s)
        empty = (None,) * machine.slots
        for start in machine.starts:
            self._draws(
                machine,
                start.state,
                empty,
                power,
                cost + start.cost,
                what,
                number,
                base_var,
                fixed,
                free,
                -1,
            )

    def _draws(
        self,
        machine: Machine,
        to: int,
        draws: tuple[float | None, ...],
        power: float,
        cost: float,
        what: int,
        number: int,
        base_var: float,
        fixed: list[Change],
        free: list[Change],
        origin: int,
    ) -> None:
        """Add the changes that bring a load into a state."""
        state = machine.states[to]
        index = machine.number
        known = None if state.fresh else draws[state.slot]
        if known is not None:
            sd = (base_var + (0.012 * known) ** 2 + 1.0) ** 0.5
            fixed.append(
                Change(
                    cost + 0.05, known - power, sd, 0.0, 0.0, what, number, index, to
                )
            )
            if state.draw == "small":
                return
            if self.short:
                self._partial(known, power, cost, what, number, index, to, free)
            cost += FRESH_COST
        if state.draw == "full":
            for mean, sd, choice in self.beliefs[index].modes:
                mean *= state.low
                fixed.append(
                    Change(
                        cost + choice,
                        mean - power,
                        (base_var + sd * sd) ** 0.5,
                        0.0,
                        0.0,
                        what,
                        number,
                        index,
                        to,
                    )
                )
            if self.short and known is None:
                mean = self.beliefs[index].power_w * state.low
                self._partial(mean, power, cost, what, number, index, to, free)
            return
        if state.draw == "level":
            full = self.beliefs[index].power_w
            low = state.low * full
            high = state.high * full
        else:
            middle = 0.5 * (state.low + state.high)
            sd = 0.35 * (state.high - state.low)
            sd = (base_var + sd * sd + (0.010 * power) ** 2) ** 0.5
            fixed.append(
                Change(cost, middle - power, sd, 0.0, 0.0, what, number, index, to)
            )
            return
        free.append(
            Change(
                cost + log(high - low),
                0.0,
                0.0,
                low - power,
                high - power,
                what,
                number,
                index,
                to,
            )
        )

    @staticmethod
    def _partial(
        full: float,
        power: float,
        cost: float,
        what: int,
        number: int,
        index: int,
        to: int,
        free: list[Change],
    ) -> None:
        """Add a pulse so short that the meter shows only a part of its height."""
        low = 0.1 * full - power
        high = full - power
        if high > 20.0 and low < high:
            free.append(
                Change(
                    cost + PARTIAL_COST + log(high - low),
                    0.0,
                    0.0,
                    low,
                    high,
                    what,
                    number,
                    index,
                    to,
                    True,
                )
            )

    def _silent_ends(
        self,
        source: Explanation,
        plateau: Plateau,
        step: float,
        base_sd: float,
        found: list[Candidate],
    ) -> None:
        """Add the end of a small draw that is long overdue, its step overlooked."""
        for number, part in enumerate(source.parts):
            if part.index == UNNAMED:
                continue
            state = self.machines[part.index].states[part.state]
            if part.power_w > OVERLOOKED_W or (
                plateau.start_s - part.since_s < 1.5 * state.long_s
            ):
                continue
            price = (
                source.cost
                + part.power_w / RESTING_STEP_W
                - log(RESTING_RATE_PER_S * self.period_s)
                + huber(step / base_sd)
                + log(base_sd)
                + LOG_ROOT_TAU
            )
            change = Change(0.0, step, 0.0, step, step, END, number, part.index, 0)
            found.append(Candidate(price, source, ((change, step),), False))

    def build(self, candidate: Candidate, plateau: Plateau) -> Explanation:
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
            extended = Explanation(
                candidate.cost,
                source.base_w,
                source.total_w,
                source.parts,
                past,
                source.runs,
                source.held + 1,
                source.held_since_s if source.held else plateau.start_s,
            )
        else:
            extended = self._changed(candidate, plateau)
        self._charge(extended, plateau)
        return extended

    def _changed(self, candidate: Candidate, plateau: Plateau) -> Explanation:
        source = candidate.source
        step = plateau.level_w - source.total_w
        parts = source.parts
        base = source.base_w
        past = source.past
        if candidate.changes:
            at_s = plateau.start_s
            if source.held and step > 0.0:
                at_s = source.held_since_s
            for change, amount in candidate.changes:
                parts, base = self._apply(
                    change, amount, source.parts, parts, base, at_s
                )
            if source.held and step > 0.0:
                past = _relabel(past, source.held, parts)
        else:
            parts, base = self._absorb(parts, base, step, plateau)
        runs = source.runs
        if runs and runs[0][2] < plateau.end_s - REMEMBERED_S:
            runs = runs[1:]
        for change, _ in candidate.changes:
            if change.what in (END, RESTART) and change.who != UNNAMED:
                ended = source.parts[change.part]
                silent = change.what == RESTART
                runs = (
                    *runs,
                    (
                        ended.index,
                        ended.run_start_s,
                        ended.since_s if silent else plateau.start_s,
                    ),
                )
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
            runs,
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
                (SETTLING_SHARE if part.since_s > fresh_s else WANDER_SHARE)
                * part.power_w
            )
            ** 2
            for part in parts
        ]
        total = 2.0 + sum(weights)
        changed: list[Part] = []
        for part, weight in zip(parts, weights, strict=True):
            share = step * weight / total
            if share > 0.5 or share < -0.5:
                changed.append(self._moved(part, part.power_w + share))
                base -= share
            else:
                changed.append(part)
        return tuple(changed), base + step

    def _moved(self, part: Part, power: float) -> Part:
        """Return the part with its draw followed to a new power."""
        draws = part.draws
        if part.index != UNNAMED:
            slot = self.machines[part.index].states[part.state].slot
            draws = (*draws[:slot], power, *draws[slot + 1 :])
        return Part(
            part.index, part.state, power, part.since_s, part.run_start_s, draws
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
        if what == UNNAMED_ON:
            return (*parts, Part(UNNAMED, 0, amount, at_s, at_s, ())), base
        if what == START:
            machine = self.machines[change.who]
            power, base = _bounded(machine, change.state, amount, base)
            part = self._entered(
                machine,
                change.state,
                power,
                at_s,
                at_s,
                (None,) * machine.slots,
                change.partial,
            )
            return (*parts, part), base
        target = old[change.part]
        rest = tuple(part for part in parts if part is not target)
        if what == END:
            return rest, base + amount + target.power_w
        machine = self.machines[change.who]
        power, base = _bounded(machine, change.state, target.power_w + amount, base)
        if what == RESTART:
            part = self._entered(
                machine,
                change.state,
                power,
                at_s,
                at_s,
                (None,) * machine.slots,
                change.partial,
            )
        else:
            part = self._entered(
                machine,
                change.state,
                power,
                at_s,
                target.run_start_s,
                target.draws,
                change.partial,
            )
        return (*rest, part), base

    @staticmethod
    def _entered(
        machine: Machine,
        state: int,
        power: float,
        at_s: float,
        run_start_s: float,
        draws: tuple[float | None, ...],
        partial: bool,
    ) -> Part:
        if not partial:
            slot = machine.states[state].slot
            draws = (*draws[:slot], power, *draws[slot + 1 :])
        return Part(machine.number, state, power, at_s, run_start_s, draws)

    def _charge(self, extended: Explanation, plateau: Plateau) -> None:
        """Charge the plateau's length, and end pauses that will not end by themselves."""
        start, end = plateau.start_s, plateau.end_s
        cost = extended.cost
        over: list[Part] = []
        for part in extended.parts:
            if part.index == UNNAMED:
                cost += survival_cost(
                    part.since_s, start, end, UNNAMED_SCALE_S, UNNAMED_SHAPE
                )
                continue
            state = self.machines[part.index].states[part.state]
            if part.power_w < SILENT_W and state.draw == "small":
                off = state.off_chance
                m, k = state.scale_s, state.shape
                x0 = (max(0.0, start - part.since_s) / m) ** k
                x1 = ((end - part.since_s) / m) ** k
                s0 = (1.0 - off) / (1.0 + x0)
                s1 = (1.0 - off) / (1.0 + x1)
                cost += log((s0 + off) / (s1 + off))
                if s1 < 0.02 * off or end - part.since_s > 1800.0:
                    over.append(part)
            else:
                cost += survival_cost(
                    part.since_s, start, end, state.scale_s, state.shape
                ) + overdue_cost(part.since_s, start, end, state.long_s)
        excess = self.resting.excess(extended.base_w)
        if excess > 0.0:
            cost += 0.003 * excess * (end - start)
        extended.cost = cost
        for part in over:
            extended.runs = (
                *extended.runs,
                (part.index, part.run_start_s, part.since_s),
            )
            extended.parts = tuple(p for p in extended.parts if p is not part)
            extended.base_w += part.power_w


def _bounded(
    machine: Machine, state: int, power: float, base: float
) -> tuple[float, float]:
    """Keep a small draw small; what is over belongs to the resting load."""
    entered = machine.states[state]
    high = 1.2 * entered.high if entered.draw == "small" else 1e9
    kept = min(max(power, 0.0), high)
    return kept, base + power - kept


def _together(one: Change, two: Change) -> bool:
    """Whether two changes concern different loads."""
    if one.part >= 0 and one.part == two.part:
        return False
    return one.who != two.who or one.who == UNNAMED


def _relabel(past: Moment | None, held: int, parts: tuple[Part, ...]) -> Moment | None:
    """Give the edges of an upward step to what it switched on."""
    if held == 0 or past is None:
        return past
    parent = _relabel(past.parent, held - 1, parts)
    return Moment(
        parent, past.start_s, past.end_s, past.level_w, past.base_w, parts, True
    )
