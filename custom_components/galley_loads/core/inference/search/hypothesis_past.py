"""From a hypothesis's past to segments."""

from math import exp
from typing import Final

from ..model.activity import Activity, Phase, Segment
from ..model.dwell_time import is_silent
from ..model.hypothesis import (
    STILL,
    UNNAMED,
    ActiveLoad,
    Hypothesis,
    PastStep,
    RunId,
    RunSpan,
)
from ..model.state_machine import FULL_SLOT, SILENT_W, MachineState, StateMachine

TEMPER: Final = 1.5
"""Judgement, a cost: by which a rival's weight against a run falls to 1 / e."""
REMEMBERED_S: Final = 3000.0
"""Judgement, s: for how long hypotheses remember the runs that ended, and so how far
back a rival counts."""
STILL_HEATS: Final = 0.5
"""Judgement, a share: a draw that slides still heats above it, of the run's full
power."""


def past_after(last: PastStep | None, after_s: float) -> list[PastStep]:
    """Return the past after a time, in order."""
    found: list[PastStep] = []
    past_step = last
    while past_step is not None and past_step.end_s > after_s:
        found.append(past_step)
        past_step = past_step.parent
    found.reverse()
    return found


def whole_runs_until(path: list[PastStep], horizon_s: float, longest_s: float) -> float:
    """Return until when a stretch of past may be settled without cutting a run in two.

    Who ran is known better of whole runs. A run across the horizon waits for its end,
    unless another one that ended before the horizon is due, or it is longer than
    `longest_s` already.
    """
    spans: dict[RunId, tuple[float, float]] = {}
    for past_step in path:
        for load in past_step.loads:
            if load.index == UNNAMED:
                continue
            key = load.run
            first = spans[key][0] if key in spans else past_step.start_s
            spans[key] = (first, past_step.end_s)
    due_s = max((end for _, end in spans.values() if end <= horizon_s), default=0.0)
    # Runs that began earlier may cross the time to which a later one moves the horizon.
    for start, end in sorted(spans.values(), reverse=True):
        if start < horizon_s < end and horizon_s - start < longest_s:
            horizon_s = start
    return max(due_s, horizon_s)


def load_powers(past_step: PastStep, before: tuple[ActiveLoad, ...]) -> list[float]:
    """Return the draw of each load over a past step, edges shared out."""
    powers = [load.power_w for load in past_step.loads]
    if not past_step.edge or not powers or past_step.level_w is None:
        return powers
    had = {load.run: load for load in before}
    room = past_step.level_w - past_step.base_w
    changing: list[int] = []
    for number, load in enumerate(past_step.loads):
        old = had.get(load.run)
        if old is None or abs(old.power_w - load.power_w) > 0.05 * load.power_w + 5.0:
            changing.append(number)
        else:
            room -= load.power_w
    if not changing:
        # A downward edge: the largest draw is the likeliest to be going.
        excess = sum(powers) + past_step.base_w - past_step.level_w
        if excess > 0.0:
            number = max(range(len(powers)), key=powers.__getitem__)
            powers[number] = max(0.0, powers[number] - excess)
        return powers
    full = sum(powers[number] for number in changing)
    share = 0.0 if full <= 0.0 else min(1.0, max(0.0, room / full))
    for number in changing:
        powers[number] *= share
    return powers


def segments(
    machines: tuple[StateMachine, ...],
    names: tuple[str, ...],
    past_steps: list[PastStep],
    before: tuple[ActiveLoad, ...],
    confidence: dict[RunId, float],
    open_runs: frozenset[RunId],
    nobodys: frozenset[RunId] = frozenset(),
    count: int | None = None,
) -> list[Segment]:
    """Return the segments of a stretch of past, or the first `count` of them.

    A run that nothing follows ends with its last draw: trailing pauses of runs that are
    not in `open_runs` are left out. Runs in `nobodys` are given to unnamed loads.
    """
    last_draw: dict[RunId, int] = {}
    for number, past_step in enumerate(past_steps):
        for load in past_step.loads:
            if not is_silent(load, machines[load.index].states[load.state]):
                last_draw[load.run] = number
    result: list[Segment] = []
    for number, past_step in enumerate(past_steps[:count]):
        powers = load_powers(past_step, before)
        activities: list[Activity] = []
        unnamed = 0.0
        for load, power in zip(past_step.loads, powers, strict=True):
            if load.index == UNNAMED:
                unnamed += power
                continue
            key = load.run
            if key in nobodys:
                unnamed += power
                continue
            if number > last_draw.get(key, -1) and key not in open_runs:
                continue
            machine = machines[load.index]
            state = machine.states[load.state]
            activities.append(
                Activity(
                    names[load.index],
                    load.run_start_s,
                    power,
                    phase_of(load, state),
                    confidence.get(key, 0.5),
                )
            )
        result.append(
            Segment(past_step.start_s, past_step.end_s, tuple(activities), unnamed)
        )
        before = past_step.loads
    return result


def phase_of(load: ActiveLoad, state: MachineState) -> Phase:
    """Return what a running appliance does.

    A controller that throttles begins to some degrees before the goal: it still heats while
    it gives more than half of what it gave.
    """
    full_w = load.draws[FULL_SLOT]
    if state.fades and full_w is not None and load.power_w > STILL_HEATS * full_w:
        return Phase.HEATING
    return Phase.HOLDING if state.holding else Phase.HEATING


def run_confidence(
    best: Hypothesis, others: list[Hypothesis], path: list[PastStep]
) -> dict[RunId, float]:
    """Return the confidence of every run within a stretch of the best one's past.

    Hypotheses that lost, at the end or on the way, count against the runs which they
    did not contain, by their cost in excess.
    """
    spans: dict[RunId, list[float]] = {}
    for past_step in path:
        for load in past_step.loads:
            if load.index == UNNAMED:
                continue
            span = spans.setdefault(load.run, [0.0, 0.0])
            if span[0] == 0.0:
                span[0] = past_step.start_s
            if load.power_w >= SILENT_W:
                span[1] = past_step.end_s
    if not spans:
        return {}
    against = dict.fromkeys(spans, 0.0)
    rivals: list[tuple[float, tuple[RunSpan, ...], float]] = [
        (
            e.cost - best.cost,
            (*e.runs, *((p.index, p.run_start_s, STILL) for p in e.loads)),
            STILL,
        )
        for e in others
        if e is not best
    ]
    for past_step in path:
        rivals.extend((gap, runs, past_step.start_s) for gap, runs in past_step.rivals)
    for gap, runs, until in rivals:
        weight = exp(-max(0.0, gap) / TEMPER)
        for key, (first, last) in spans.items():
            if first >= until or last < until - REMEMBERED_S:
                continue
            common = 0.0
            for index, start, end in runs:
                if index == key[0]:
                    common += max(0.0, min(end, last, until) - max(start, first))
            if common < 0.5 * (min(last, until) - first):
                against[key] += weight
    return {key: 1.0 / (1.0 + sum_) for key, sum_ in against.items()}
