"""From an explanation's past to segments."""

from math import exp
from typing import Final

from ..model.activity import Activity, Phase, Segment
from ..model.dwell_time import is_silent
from ..model.hypothesis import STILL, UNNAMED, Explanation, Moment, Part, RunSpan
from ..model.state_machine import FULL_SLOT, SILENT_W, Machine, MachineState

TEMPER: Final = 1.5
REMEMBERED_S: Final = 3000.0
STILL_HEATS: Final = 0.5
"""A draw that slides still heats above this share of the run's full power."""


def moments_after(last: Moment | None, after_s: float) -> list[Moment]:
    """Return the past after a time, in order."""
    found: list[Moment] = []
    moment = last
    while moment is not None and moment.end_s > after_s:
        found.append(moment)
        moment = moment.parent
    found.reverse()
    return found


def whole_runs_until(path: list[Moment], horizon_s: float, longest_s: float) -> float:
    """Return until when a stretch of past may be settled without cutting a run in two.

    Who ran is better told of whole runs. A run across the horizon waits for its end,
    unless another one that ended before the horizon must be told, or it is longer than
    `longest_s` already.
    """
    spans: dict[tuple[int, float], tuple[float, float]] = {}
    for moment in path:
        for part in moment.parts:
            if part.index == UNNAMED:
                continue
            key = (part.index, part.run_start_s)
            first = spans[key][0] if key in spans else moment.start_s
            spans[key] = (first, moment.end_s)
    due_s = max((end for _, end in spans.values() if end <= horizon_s), default=0.0)
    # Runs that began earlier may cross the time to which a later one moves the horizon.
    for start, end in sorted(spans.values(), reverse=True):
        if start < horizon_s < end and horizon_s - start < longest_s:
            horizon_s = start
    return max(due_s, horizon_s)


def part_powers(moment: Moment, before: tuple[Part, ...]) -> list[float]:
    """Return the draw of each part over a moment, edges shared out."""
    powers = [part.power_w for part in moment.parts]
    if not moment.edge or not powers or moment.level_w is None:
        return powers
    had = {(part.index, part.run_start_s): part for part in before}
    room = moment.level_w - moment.base_w
    changing: list[int] = []
    for number, part in enumerate(moment.parts):
        old = had.get((part.index, part.run_start_s))
        if old is None or abs(old.power_w - part.power_w) > 0.05 * part.power_w + 5.0:
            changing.append(number)
        else:
            room -= part.power_w
    if not changing:
        # A downward edge: the largest draw is the likeliest to be going.
        excess = sum(powers) + moment.base_w - moment.level_w
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
    machines: tuple[Machine, ...],
    names: tuple[str, ...],
    moments: list[Moment],
    before: tuple[Part, ...],
    confidence: dict[tuple[int, float], float],
    open_runs: frozenset[tuple[int, float]],
    nobodys: frozenset[tuple[int, float]] = frozenset(),
    count: int | None = None,
) -> list[Segment]:
    """Return the segments of a stretch of past, or the first `count` of them.

    A run that nothing follows ends with its last draw: trailing pauses of runs that are
    not in `open_runs` are left out. Runs in `nobodys` are given to unnamed loads.
    """
    last_draw: dict[tuple[int, float], int] = {}
    for number, moment in enumerate(moments):
        for part in moment.parts:
            if not is_silent(part, machines[part.index].states[part.state]):
                last_draw[(part.index, part.run_start_s)] = number
    result: list[Segment] = []
    for number, moment in enumerate(moments[:count]):
        powers = part_powers(moment, before)
        activities: list[Activity] = []
        unnamed = 0.0
        for part, power in zip(moment.parts, powers, strict=True):
            if part.index == UNNAMED:
                unnamed += power
                continue
            key = (part.index, part.run_start_s)
            if key in nobodys:
                unnamed += power
                continue
            if number > last_draw.get(key, -1) and key not in open_runs:
                continue
            machine = machines[part.index]
            state = machine.states[part.state]
            activities.append(
                Activity(
                    names[part.index],
                    part.run_start_s,
                    power,
                    _phase(part, state),
                    confidence.get(key, 0.5),
                )
            )
        result.append(Segment(moment.start_s, moment.end_s, tuple(activities), unnamed))
        before = moment.parts
    return result


def _phase(part: Part, state: MachineState) -> Phase:
    """Return what a running appliance does.

    A controller that throttles begins to some degrees before the goal: it still heats while
    it gives more than half of what it gave.
    """
    full_w = part.draws[FULL_SLOT]
    if state.fades and full_w is not None and part.power_w > STILL_HEATS * full_w:
        return Phase.HEATING
    return Phase.HOLDING if state.holding else Phase.HEATING


def run_confidence(
    best: Explanation, others: list[Explanation], path: list[Moment]
) -> dict[tuple[int, float], float]:
    """Return the confidence of every run within a stretch of the best one's past.

    Explanations that lost, at the end or on the way, count against the runs which they
    did not contain, by their cost in excess.
    """
    spans: dict[tuple[int, float], list[float]] = {}
    for moment in path:
        for part in moment.parts:
            if part.index == UNNAMED:
                continue
            span = spans.setdefault((part.index, part.run_start_s), [0.0, 0.0])
            if span[0] == 0.0:
                span[0] = moment.start_s
            if part.power_w >= SILENT_W:
                span[1] = moment.end_s
    if not spans:
        return {}
    against = dict.fromkeys(spans, 0.0)
    rivals: list[tuple[float, tuple[RunSpan, ...], float]] = [
        (
            e.cost - best.cost,
            (*e.runs, *((p.index, p.run_start_s, STILL) for p in e.parts)),
            STILL,
        )
        for e in others
        if e is not best
    ]
    for moment in path:
        rivals.extend((gap, runs, moment.start_s) for gap, runs in moment.rivals)
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
