"""The dwell time of a running load: its law, its survival, its hazard."""

from math import exp, log, log1p
from typing import Final

from .dwell_laws import MOST_CYCLES, MOST_DWELLS
from .hypothesis import NO_DWELL, ActiveLoad, Dwells
from .state_machine import SILENT_W, Follow, MachineState

BEYOND: Final = 0.3
"""Judgement, a logarithm: how far beyond the kind's range a run's own dwells are
followed."""
TURNED: Final = 0.2
"""Judgement, a chance: that a dwell follows the kind again and not its own run, as a
knob was turned."""


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


def dwell_survival(load: ActiveLoad, state: MachineState, age_s: float) -> float:
    """Return the chance that a dwell lasts longer than that."""
    if age_s <= 0.0:
        return 1.0
    usual: float = 1.0 / (1.0 + (age_s / state.scale_s) ** state.shape)
    if load.shape == state.shape:
        return usual
    own: float = 1.0 / (1.0 + (age_s / load.scale_s) ** load.shape)
    return TURNED * usual + (1.0 - TURNED) * own


def dwell_hazard(
    load: ActiveLoad, state: MachineState, age_s: float
) -> tuple[float, float]:
    """Return the rate at which a dwell ends at that age, per second, and its survival."""
    x = (age_s / state.scale_s) ** state.shape
    usual = 1.0 / (1.0 + x)
    density = state.shape / age_s * x * usual * usual
    if load.shape == state.shape:
        return density / usual, usual
    x = (age_s / load.scale_s) ** load.shape
    own = 1.0 / (1.0 + x)
    survival = TURNED * usual + (1.0 - TURNED) * own
    density *= TURNED
    density += (1.0 - TURNED) * load.shape / age_s * x * own * own
    return density / survival, survival


def dwell_law(state: MachineState, dwells: Dwells) -> tuple[float, float, float]:
    """Return scale, shape and 90th percentile of the dwell that begins."""
    count, mean, _, _ = dwells[state.alike] if state.alike >= 0 else NO_DWELL
    if count == 0:
        return state.scale_s, state.shape, state.long_s
    weight, shape, long = state.laws[min(count, MOST_DWELLS)]
    mean = min(max(mean, state.log_low - BEYOND), state.log_high + BEYOND)
    scale = exp(state.log_scale + weight * (mean - state.log_scale))
    return scale, shape, scale * long


def with_dwell(dwells: Dwells, slot: int, seconds: float, to: int) -> Dwells:
    """Return a run's dwells with one more in a slot, after which state `to` followed."""
    count, mean, before, streak = dwells[slot]
    count += 1
    mean += (log(seconds) - mean) / min(count, MOST_DWELLS)
    streak = streak + 1 if before == to else 1
    return (*dwells[:slot], (count, mean, to, streak), *dwells[slot + 1 :])


def last_dwell(load: ActiveLoad, state: MachineState) -> tuple[float, float]:
    """Return the chance that this dwell is the run's last and the cost of its not being."""
    if state.alike < 0:
        return state.last[0]
    return state.last[min(load.dwells[state.alike][0], MOST_CYCLES)]


def choice_cost(load: ActiveLoad, state: MachineState, follow: Follow) -> float:
    """Return the cost of going on with a state, given what the run did before."""
    if state.alike < 0:
        return follow.cost
    _, _, to, streak = load.dwells[state.alike]
    costs = follow.again if to == follow.state else follow.instead
    return costs[min(streak, MOST_CYCLES)]


def is_silent(load: ActiveLoad, state: MachineState) -> bool:
    """Return whether nobody sees if a load pauses or has ended: it draws next to nothing."""
    return load.power_w < SILENT_W and state.draw == "small"


def chance_to_go_on(load: ActiveLoad, state: MachineState, at_s: float) -> float:
    """Return the chance that a run goes on: of a silent one nobody sees its end.

    That it is the run's last dwell is as likely as ever, however many there were.
    """
    if not is_silent(load, state):
        return 1.0
    off = state.last[0][0]
    on = (1.0 - off) * dwell_survival(load, state, at_s - load.since_s)
    return on / (on + off)
