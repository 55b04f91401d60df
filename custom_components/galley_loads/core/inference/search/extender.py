"""Extend one hypothesis by one steady state in all likely ways.

A step between steady states is explained by nothing (noise, a wandering draw), by the meter
having caught an edge half-way, by a step of the base load, or by one or two changes of
running loads. Costs are -log probabilities: the hazard of each change over the meter's
period, and the density of the step under what the change predicts.
"""

from math import log
from typing import Final

from ..learning.learned_power import PowerBelief
from ..learning.usual_hours import UsualHours
from ..model.base_load import BaseLoad
from ..model.bursts import return_cost, returning
from ..model.hypothesis import UNNAMED, Hypothesis
from ..model.normal_law import LOG_ROOT_TAU, huber
from ..model.state_machine import StateMachine
from ..model.unnamed_loads import UnnamedRate
from .change import ALL_OFF, END, UNNAMED_ON, Change, base_load_change, free_change
from .changes import MIDDLE_W, ChangeFinder, Starts
from .grower import Candidate, Grower
from .steady_states import SteadyState

BASE_LOAD_RATE_PER_S: Final = 80.0 / 86400.0
"""Judgement, a rate per s: at which an overlooked small draw may have ended."""
BASE_LOAD_STEP_W: Final = 60.0
"""Judgement, W: mean size of an overlooked end (an exponential law)."""
EDGE_COST: Final = 1.5
"""Judgement, a cost: of a meter that caught an edge half-way."""
SPIKE_COST: Final = 11.0
"""Judgement, a cost: of an edge after which the load is where it was."""
LONGEST_EDGE: Final = 2
"""Judgement, steady states: an edge has no more."""
LEAST_STEP_W: Final = 4.0
"""Judgement, W: a smaller step is noise."""
STEP_SIGMAS: Final = 2.2
"""Judgement, standard deviations: a smaller step is noise."""
OVERLOOKED_W: Final = 160.0
"""Judgement, W: the end of a larger draw is not overlooked."""
ALL_OFF_COST: Final = 26.0
"""Judgement, a cost: of all runs ending at once because the load is down to its
base."""
ALL_OFF_EACH: Final = 6.0
"""Judgement, a cost: on top of that for each run."""
BESIDE_LEAST_W: Final = 20.0
"""Judgement, W: less than this is not taken for a step of the base load beside a
change."""
BESIDE_SIGMAS: Final = 4.0
"""Judgement, standard deviations of the change: nor is less than this."""
BESIDE_MOST_W: Final = 400.0
"""Judgement, W: nor is more than this."""
CHEAPEST_BASE_LOAD_STEP: Final = 4.0
"""Judgement, a cost: a step of the base load costs at least this; it saves working out
the others."""


class Extender:
    """All that an extension needs to know of the boat."""

    __slots__ = (
        "_base_load",
        "_finder",
        "_machines",
        "_usual_hours",
        "busy",
        "grower",
        "live",
        "meter_s",
        "noise_w",
        "period_s",
    )

    def __init__(
        self,
        machines: tuple[StateMachine, ...],
        beliefs: tuple[PowerBelief, ...],
        base_load: BaseLoad,
        unnamed: UnnamedRate,
        usual_hours: UsualHours,
    ) -> None:
        """Hold the boat's machines and what is learnt of them."""
        self._machines = machines
        self._base_load = base_load
        self._usual_hours = usual_hours
        self._finder = ChangeFinder(machines, beliefs, unnamed)
        self.grower = Grower(machines, base_load)
        self.live: tuple[bool, ...] = tuple(True for _ in machines[:-1])
        self.noise_w = 1.5
        self.period_s = 2.0
        self.meter_s = 2.0
        self.busy = False

    def prepare(self, steady: SteadyState, best: Hypothesis) -> None:
        """Work out what all hypotheses share, the best one before being given."""
        spread = 1.0 + self.grower.wander_w(best.loads, steady.start_s)
        self._finder.prepare(
            self.period_s,
            self.meter_s,
            2.0 * self.noise_w * self.noise_w + spread * spread,
            short=steady.short,
            busy=self.busy,
            hours=self._usual_hours.factors(steady.start_s),
        )

    def candidates(
        self, source: Hypothesis, steady: SteadyState, limit: float
    ) -> list[Candidate]:
        """Return the ways to extend a hypothesis that cost less than `limit`."""
        step = steady.level_w - source.total_w
        wander = 1.0 + self.grower.wander_w(source.loads, steady.start_s)
        base_var = 2.0 * self.noise_w * self.noise_w + wander * wander
        base_sd = base_var**0.5
        cost = source.cost
        unchanged = cost + huber(step / base_sd) + log(base_sd) + LOG_ROOT_TAU
        if source.held:
            # What was taken for an edge came back to where it was: a spike.
            unchanged += SPIKE_COST
        base_load = self._base_load
        if base_load.low_w is not None and source.base_w + step < base_load.low_w:
            # Less than the boat's quietest hours: something else must draw less.
            below = base_load.excess(
                source.base_w + self.grower.base_load_part(source, step, steady)
            )
            before = base_load.excess(source.base_w)
            if below > before:
                unchanged += 0.5 * (below * below - before * before)
        found = [Candidate(unchanged, source, (), False)]
        if source.loads:
            self._overlooked(source, steady, unchanged, step, found)
        size = step if step >= 0.0 else -step
        if size < LEAST_STEP_W or size < STEP_SIGMAS * base_sd:
            return found
        if source.loads:
            self._all_off(source, steady.level_w, step, found)
        if steady.short and source.held < LONGEST_EDGE:
            price = cost + EDGE_COST + log(size + 10.0)
            found.append(Candidate(price, source, (), True))
        found.append(self._base_load_step(source, step, steady.start_s, base_var))
        changes = self._finder.find(
            source.loads,
            self.live,
            source.stepped_s(steady.start_s, steady.level_w),
            steady.start_s,
        )
        for change in changes.fixed:
            total = cost + change.cost
            if total > limit:
                break
            total += log(change.spread_w) + LOG_ROOT_TAU
            total += huber((step - change.step_w) / change.spread_w)
            if total < limit:
                found.append(Candidate(total, source, ((change, step),), False))
        for change in changes.free:
            if change.low_w <= step <= change.high_w:
                total = cost + change.cost + _unevenness(change, step, base_var)
                if total < limit:
                    found.append(Candidate(total, source, ((change, step),), False))
        _pairs(source, step, changes, base_var, limit, found)
        self._beside_base_load(
            source, step, steady.start_s, base_var, changes.fixed, limit, found
        )
        return found

    def _beside_base_load(
        self,
        source: Hypothesis,
        step: float,
        at_s: float,
        variance: float,
        fixed: list[Change],
        limit: float,
        found: list[Candidate],
    ) -> None:
        """Add the ways in which the base load steps together with an appliance.

        While a hob pulses every few seconds, a fridge hardly ever starts between them.
        """
        room = limit - source.cost - CHEAPEST_BASE_LOAD_STEP
        for one in fixed:
            if one.cost > room:
                break
            left = step - one.step_w
            least = max(BESIDE_LEAST_W, BESIDE_SIGMAS * one.spread_w)
            if not least <= abs(left) <= BESIDE_MOST_W:
                continue
            price, number = self._base_load_price(source, left, at_s, variance)
            total = source.cost + one.cost + price
            if total < limit:
                change = base_load_change(price, left, burst=number)
                pair = ((one, one.step_w), (change, left))
                found.append(Candidate(total, source, pair, False))

    def _base_load_price(
        self, source: Hypothesis, step: float, at_s: float, variance: float
    ) -> tuple[float, int]:
        """Return what a step of the base load costs, and which burst makes it."""
        price = self._base_load.steps.cost(abs(step), self.period_s)
        number = returning(source.bursts, step, variance)
        if number >= 0:
            burst = source.bursts[number]
            again = return_cost(burst, step, at_s, self.period_s, variance)
            price = min(price, again)
        return price, number

    def _base_load_step(
        self, source: Hypothesis, step: float, at_s: float, variance: float
    ) -> Candidate:
        """Return a step of the base load: the fridge, a lamp, a pump."""
        base_load = self._base_load
        before = base_load.excess(source.base_w)
        after = base_load.excess(source.base_w + step)
        price, number = self._base_load_price(source, step, at_s, variance)
        price += 0.5 * (after * after - before * before)
        change = base_load_change(price, step, burst=number)
        return Candidate(source.cost + price, source, ((change, step),), False)

    def _all_off(
        self, source: Hypothesis, level_w: float, step: float, found: list[Candidate]
    ) -> None:
        """Add the way back: the load is down to its base load, so nothing runs."""
        base_load = self._base_load
        if (
            base_load.low_w is None
            or not base_load.low_w <= level_w <= base_load.high_w
        ):
            return
        before = base_load.excess(source.base_w)
        price = ALL_OFF_COST + ALL_OFF_EACH * len(source.loads) - 0.5 * before * before
        change = base_load_change(price, step, what=ALL_OFF)
        found.append(Candidate(source.cost + price, source, ((change, step),), False))

    def _overlooked(
        self,
        source: Hypothesis,
        steady: SteadyState,
        unchanged: float,
        step: float,
        found: list[Candidate],
    ) -> None:
        """Add the end of a small draw that is long overdue, its step not noticed."""
        for number, load in enumerate(source.loads):
            if load.index == UNNAMED or load.power_w > OVERLOOKED_W:
                continue
            if steady.start_s - load.since_s < 1.5 * load.long_s:
                continue
            price = load.power_w / BASE_LOAD_STEP_W
            price -= log(BASE_LOAD_RATE_PER_S * self.period_s)
            change = free_change(
                cost=0.0,
                step_w=step,
                low_w=step,
                high_w=step,
                what=END,
                load=number,
                who=load.index,
                state=0,
            )
            found.append(Candidate(unchanged + price, source, ((change, step),), False))


def _pairs(
    source: Hypothesis,
    step: float,
    changes: Starts,
    base_var: float,
    limit: float,
    found: list[Candidate],
) -> None:
    """Add the ways in which two loads change in one step."""
    cost = source.cost
    fixed, free = changes
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
                pair = ((one, one.step_w + share), (two, two.step_w + gap - share))
                found.append(Candidate(total, source, pair, False))
        for two in free:
            if two.cost > room:
                break
            if two.low_w <= left <= two.high_w and _together(one, two):
                total = cost + one.cost + two.cost
                total += _unevenness(two, left, base_var)
                pair = ((one, one.step_w), (two, left))
                found.append(Candidate(total, source, pair, False))


def _unevenness(change: Change, step: float, variance: float) -> float:
    """Return what a free step costs more than its change foresees, or less.

    The powers of unnamed loads are log-uniform; a level that was seen before is likelier
    than one that was not.
    """
    if change.what == UNNAMED_ON:
        return log(step / MIDDLE_W)
    if change.levels is None:
        return 0.0
    width_w = change.high_w - change.low_w
    return change.levels.excess(step + change.from_w, variance, width_w)


def _together(one: Change, two: Change) -> bool:
    """Whether two changes concern different loads."""
    if one.load >= 0 and one.load == two.load:
        return False
    return one.who != two.who or one.who == UNNAMED
