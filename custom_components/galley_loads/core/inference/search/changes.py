"""What could have changed: every single change of one load that would make a step.

Costs are -log probabilities. The hazard of a change over one period of the meter comes
from the dwell law of the state that is left, or from the rate at which runs start; the
step is either predicted with a standard deviation or free within a range.
"""

from math import log
from typing import Final, NamedTuple

from ..learning.learned_power import PowerBelief
from ..model.dwell_time import (
    choice_cost,
    dwell_hazard,
    dwell_survival,
    is_silent,
    last_dwell,
)
from ..model.hypothesis import UNNAMED, ActiveLoad
from ..model.state_machine import SILENT_W, MachineState, StateMachine
from ..model.unnamed_loads import HIGH_W, LOW_W, UnnamedRate
from .change import (
    END,
    GO,
    RESTART,
    SLIDE,
    START,
    UNNAMED_ON,
    Change,
    free_change,
    predicted_change,
)

UNNAMED_SLOTS: Final = 2
"""Judgement, a number: loads that nobody named which run at once."""
MIDDLE_W: Final = 600.0
"""Judgement, W: the power at which the density of unnamed loads is taken until it is
known."""
OFF_SHARE: Final = 0.015
"""Judgement, a share of the draw: standard deviation of the step at its end."""
RETURN_SHARE: Final = 0.015
"""Judgement, a share of the draw: standard deviation of a draw that comes back."""
PARTIAL_COST: Final = 1.2
"""Judgement, a cost: of a pulse or a pause of which the meter shows only a part."""
RETURN_COST: Final = 0.05
"""Judgement, a cost: of a draw that the run had before."""
SHOWN_SHARE: Final = 0.1
"""Judgement, a share of the step: what a meter shows of it at least."""
UNSEEN_END_W: Final = 3.0
"""Judgement, W: the end of a small draw below this is no step."""
MOTOR_W: Final = 10.0
"""Judgement, W: a small draw from here on is a motor's, anything in its range."""
LEAST_JUMP_AGE_S: Final = 10.0
"""Judgement, s: a briefer dwell is not left for what no description foresees."""
LOWEST_JUMP_SHARE: Final = 0.08
"""Judgement, a share of the full power: the lowest draw that a jump leads to."""
HIGHEST_JUMP_SHARE: Final = 1.08
"""Judgement, a share of the full power: the highest draw that a jump leads to."""
FRESH_COST: Final = 1.0
"""Judgement, a cost: of another draw than the one the run had before."""
JUMP_COST: Final = 12.0
"""Judgement, a cost: of a change that no description foresees."""
SLIDE_COST: Final = 1.0
"""Judgement, a cost: of a draw that slides being seen a step lower; it does so again
and again."""
SLIDE_LEAST: Final = 0.3
"""Judgement, a share of the draw: so much is left at least; what falls further has
rather ended."""
LEAST_SLIDE_W: Final = 40.0
"""Judgement, W: room for a slide below which there is none."""
LEAST_JUMP_W: Final = 60.0
"""Judgement, W: what draws less does not jump, and shows no part of a pause."""
BUSY_FACTOR: Final = 3.0
"""Judgement, a factor: of the rate of starts while or soon after something else
runs."""
CALM_FACTOR: Final = 0.6
"""Judgement, a factor: of the rate of starts at other times."""

BRIEF_S: Final = 30.0
"""Judgement, s: dwells that may be shorter than this come as pulses."""
BRIEF_PERIODS: Final = 2.2
"""Judgement, periods of the meter: so do dwells that may be shorter than this."""


class Starts(NamedTuple):
    """The starts of one idle appliance."""

    fixed: list[Change]
    free: list[Change]


class ChangeFinder:
    """Lists the changes that a hypothesis's loads could make at one step."""

    __slots__ = (
        "_base_var",
        "_beliefs",
        "_brief_s",
        "_idle",
        "_log_period",
        "_machines",
        "_period_s",
        "_short",
        "_unnamed",
        "_unnamed_on",
        "_ways",
    )

    def __init__(
        self,
        machines: tuple[StateMachine, ...],
        beliefs: tuple[PowerBelief, ...],
        unnamed: UnnamedRate,
    ) -> None:
        """Hold the boat's machines, unnamed loads' last, and what is learnt of the boat."""
        self._unnamed = unnamed
        self._machines = machines
        self._beliefs = beliefs
        self._idle: list[Starts] = []
        self._period_s = 2.0
        self._log_period = log(2.0)
        self._short = False
        self._brief_s = BRIEF_S
        self._base_var = 1.0
        self._ways: dict[tuple[int, int, float], Starts] = {}
        self._unnamed_on = self._unnamed_start()

    def prepare(
        self,
        period_s: float,
        meter_s: float,
        base_var: float,
        *,
        short: bool,
        busy: bool,
        hours: tuple[float, ...],
    ) -> None:
        """Work out what all hypotheses share at one steady state.

        `busy` says that something ran a short while ago: runs come in company. `hours`
        gives by how much likelier each appliance starts at this hour than at any.
        """
        self._period_s = period_s
        self._log_period = log(period_s)
        self._short = short
        self._brief_s = max(BRIEF_S, BRIEF_PERIODS * meter_s)
        self._base_var = base_var
        self._ways.clear()
        self._unnamed_on = self._unnamed_start()
        factor = BUSY_FACTOR if busy else CALM_FACTOR
        idle: list[Starts] = []
        for machine, usual in zip(self._machines[:-1], hours, strict=True):
            starts = Starts([], [])
            rate = machine.start_rate_per_s * factor * usual
            cost = -log(rate) - self._log_period
            empty = (None,) * machine.slots
            for start in machine.starts:
                self._enter(
                    machine,
                    start.state,
                    Entry(cost + start.cost, 0.0, START, -1, empty),
                    starts,
                )
            idle.append(starts)
        self._idle = idle

    def find(
        self,
        loads: tuple[ActiveLoad, ...],
        live: tuple[bool, ...],
        at_s: float,
        charged_s: float,
    ) -> Starts:
        """Return the changes with a predicted step, and those with a free one.

        Both come cheapest first. The step was at `at_s`; going on was charged until
        `charged_s`.
        """
        found = Starts([], [])
        fixed, free = found
        running: set[int] = set()
        unnamed = 0
        for number, load in enumerate(loads):
            if load.index == UNNAMED:
                unnamed += load.power_w >= SILENT_W
            running.add(load.index)
            # Hypotheses share most of their loads.
            key = (number, id(load), at_s)
            ways = self._ways.get(key)
            if ways is None:
                ways = self._ways[key] = Starts([], [])
                age = max(at_s - load.since_s, 0.5 * self._period_s)
                self._leave(number, load, age, charged_s - load.since_s, ways)
            fixed.extend(ways.fixed)
            free.extend(ways.free)
        for index, starts in enumerate(self._idle):
            if index not in running and live[index]:
                fixed.extend(starts.fixed)
                free.extend(starts.free)
        if unnamed < UNNAMED_SLOTS:
            free.append(self._unnamed_on)
        fixed.sort()
        free.sort()
        return found

    def _unnamed_start(self) -> Change:
        """Return the start of an unnamed load, its density that of a middle power.

        Powers are log-uniform; the density is settled when the step is known.
        """
        width = log(HIGH_W / LOW_W)
        cost = -log(self._unnamed.per_s) - self._log_period + log(width * MIDDLE_W)
        return free_change(
            cost=cost,
            low_w=LOW_W,
            high_w=HIGH_W,
            what=UNNAMED_ON,
            load=-1,
            who=UNNAMED,
            state=0,
        )

    def _leave(
        self,
        number: int,
        load: ActiveLoad,
        age: float,
        charged: float,
        found: Starts,
    ) -> None:
        """Add the ways in which a running appliance goes on."""
        machine = self._machines[load.index]
        state = machine.states[load.state]
        power = load.power_w
        rate, survival = dwell_hazard(load, state, age)
        leave = -log(rate) - self._log_period
        if charged > age:
            leave -= log(survival / dwell_survival(load, state, charged))
        off, onward = last_dwell(load, state)
        if is_silent(load, state):
            # Nobody can see whether it pauses or has ended; both are weighed.
            mix = survival * (1.0 - off) + off
            leave += log(mix / survival)
            if off > 0.0 and load.index != UNNAMED:
                self._restart(number, load, -log(off / mix), found)
        if off > 0.0 and (power >= UNSEEN_END_W or state.draw != "small"):
            found.fixed.append(
                predicted_change(
                    cost=leave - log(off),
                    step_w=-power,
                    spread_w=(self._base_var + (OFF_SHARE * power) ** 2) ** 0.5,
                    what=END,
                    load=number,
                    who=load.index,
                    state=0,
                )
            )
        if state.fades:
            self._slide(number, load, state, found)
        for follow in state.follows:
            self._enter(
                machine,
                follow.state,
                Entry(
                    leave + onward + choice_cost(load, state, follow),
                    power,
                    GO,
                    number,
                    load.draws,
                ),
                found,
            )
        if (
            load.index != UNNAMED
            and state.draw != "small"
            and power > LEAST_JUMP_W
            and age > LEAST_JUMP_AGE_S
        ):
            self._jump(number, load, leave, found)

    def _restart(
        self, number: int, load: ActiveLoad, again: float, found: Starts
    ) -> None:
        """Add that a silent run had ended and its appliance starts anew."""
        power = load.power_w
        idle = self._idle[load.index]
        for change in idle.fixed:
            found.fixed.append(
                predicted_change(
                    cost=change.cost + again,
                    step_w=change.step_w - power,
                    spread_w=change.spread_w,
                    what=RESTART,
                    load=number,
                    who=load.index,
                    state=change.state,
                )
            )
        for change in idle.free:
            found.free.append(
                free_change(
                    cost=change.cost + again,
                    low_w=change.low_w - power,
                    high_w=change.high_w - power,
                    what=RESTART,
                    load=number,
                    who=load.index,
                    state=change.state,
                    partial=change.partial,
                    levels=change.levels,
                    from_w=power,
                )
            )

    def _slide(
        self, number: int, load: ActiveLoad, state: MachineState, found: Starts
    ) -> None:
        """Add that a draw is a step lower; the dwell goes on, so only the step is paid for."""
        power = load.power_w
        least = state.low * self._beliefs[load.index].power_w - power
        least = max(least, (SLIDE_LEAST - 1.0) * power)
        if least < -LEAST_SLIDE_W:
            found.free.append(
                free_change(
                    cost=SLIDE_COST + log(-least),
                    low_w=least,
                    high_w=0.0,
                    what=SLIDE,
                    load=number,
                    who=load.index,
                    state=load.state,
                )
            )

    def _jump(self, number: int, load: ActiveLoad, leave: float, found: Starts) -> None:
        """Add what no description foresees: appliances do that too."""
        full = self._beliefs[load.index].power_w
        power = load.power_w
        found.free.append(
            free_change(
                cost=leave + JUMP_COST + log(full),
                low_w=LOWEST_JUMP_SHARE * full - power,
                high_w=HIGHEST_JUMP_SHARE * full - power,
                what=GO,
                load=number,
                who=load.index,
                state=load.state,
            )
        )

    def _enter(
        self, machine: StateMachine, to: int, entry: Entry, found: Starts
    ) -> None:
        """Add the changes that bring a load into a state."""
        state = machine.states[to]
        base_var = self._base_var
        who = machine.number
        cost, power, what, number, draws = entry
        known = None if state.fresh else draws[state.slot]
        if known is not None:
            sd = (base_var + (RETURN_SHARE * known) ** 2 + 1.0) ** 0.5
            found.fixed.append(
                predicted_change(
                    cost=cost + RETURN_COST,
                    step_w=known - power,
                    spread_w=sd,
                    what=what,
                    load=number,
                    who=who,
                    state=to,
                )
            )
            if state.draw == "small":
                if self._short:
                    self._dip(entry, who, to, found.free)
                return
            if self._short and state.short_s <= self._brief_s:
                self._partial(known, entry, who, to, found.free)
            cost += FRESH_COST
        belief = self._beliefs[who]
        if state.draw == "full":
            for mean, spread, choice in belief.modes:
                mean *= state.low
                sd = (base_var + spread * spread) ** 0.5
                found.fixed.append(
                    predicted_change(
                        cost=cost + choice,
                        step_w=mean - power,
                        spread_w=sd,
                        what=what,
                        load=number,
                        who=who,
                        state=to,
                    )
                )
            if self._short and known is None and state.short_s <= self._brief_s:
                self._partial(belief.power_w * state.low, entry, who, to, found.free)
        elif state.draw == "level":
            low, high = state.low * belief.power_w, state.high * belief.power_w
            found.free.append(
                free_change(
                    cost=cost + log(high - low),
                    low_w=low - power,
                    high_w=high - power,
                    what=what,
                    load=number,
                    who=who,
                    state=to,
                    levels=belief.levels.get(state.slot),
                    from_w=power,
                )
            )
        elif state.low >= MOTOR_W:
            found.free.append(
                free_change(
                    cost=cost + log(state.high - state.low),
                    low_w=state.low - power,
                    high_w=state.high - power,
                    what=what,
                    load=number,
                    who=who,
                    state=to,
                )
            )
        else:
            if self._short:
                self._dip(entry, who, to, found.free)
            found.fixed.append(
                _to_small(state, cost, power, what, number, who, to, base_var)
            )

    @staticmethod
    def _dip(entry: Entry, who: int, to: int, free: list[Change]) -> None:
        """Add a pause so short that the meter shows only a part of its depth."""
        power = entry.power_w
        if power > LEAST_JUMP_W:
            cost = entry.cost + PARTIAL_COST + log(0.9 * power)
            free.append(
                free_change(
                    cost=cost,
                    low_w=-power,
                    high_w=-SHOWN_SHARE * power,
                    what=entry.what,
                    load=entry.number,
                    who=who,
                    state=to,
                    partial=True,
                )
            )

    def _partial(
        self, full: float, entry: Entry, who: int, to: int, free: list[Change]
    ) -> None:
        """Add a pulse so short that the meter shows only a part of its height."""
        low = SHOWN_SHARE * full - entry.power_w
        high = full - entry.power_w
        if high > 20.0 and low < high:
            cost = entry.cost + PARTIAL_COST + log(high - low)
            free.append(
                free_change(
                    cost=cost,
                    low_w=low,
                    high_w=high,
                    what=entry.what,
                    load=entry.number,
                    who=who,
                    state=to,
                    partial=True,
                )
            )


class Entry(NamedTuple):
    """How a state is entered: at what cost, from what draw, by which load."""

    cost: float
    power_w: float
    what: int
    number: int
    draws: tuple[float | None, ...]


def _to_small(
    state: MachineState,
    cost: float,
    power: float,
    what: int,
    number: int,
    who: int,
    to: int,
    base_var: float,
) -> Change:
    middle = 0.5 * (state.low + state.high)
    sd = 0.35 * (state.high - state.low)
    sd = (base_var + sd * sd + (OFF_SHARE * power) ** 2) ** 0.5
    return predicted_change(
        cost=cost,
        step_w=middle - power,
        spread_w=sd,
        what=what,
        load=number,
        who=who,
        state=to,
    )
