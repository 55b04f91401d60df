"""Save and restore hypotheses, what they share kept shared, and segments."""

from collections.abc import Mapping
from typing import Any

from ..model.activity import Activity, Phase, Segment
from ..model.hypothesis import ActiveLoad, Hypothesis, PastStep, RunSpan


def save_hypotheses(hypotheses: list[Hypothesis]) -> dict[str, Any]:
    """Return hypotheses with their pasts, JSON-able."""
    loads: dict[int, int] = {}
    load_rows: list[list[Any]] = []
    past_steps: dict[int, int] = {}
    past_rows: list[list[Any]] = []

    def load_number(load: ActiveLoad) -> int:
        number = loads.get(id(load))
        if number is None:
            number = loads[id(load)] = len(load_rows)
            load_rows.append(
                [
                    load.index,
                    load.state,
                    load.power_w,
                    load.since_s,
                    load.run_start_s,
                    list(load.draws),
                    [list(dwell) for dwell in load.dwells],
                    [load.scale_s, load.shape, load.long_s],
                    load.partial,
                ]
            )
        return number

    def past_number(last: PastStep | None) -> int | None:
        chain: list[PastStep] = []
        past_step = last
        while past_step is not None and id(past_step) not in past_steps:
            chain.append(past_step)
            past_step = past_step.parent
        for past_step in reversed(chain):
            past_steps[id(past_step)] = len(past_rows)
            past_rows.append(
                [
                    None
                    if past_step.parent is None
                    else past_steps[id(past_step.parent)],
                    past_step.start_s,
                    past_step.end_s,
                    past_step.level_w,
                    past_step.base_w,
                    [load_number(load) for load in past_step.loads],
                    past_step.edge,
                    [
                        [gap, [list(run) for run in runs]]
                        for gap, runs in past_step.rivals
                    ],
                ]
            )
        return None if last is None else past_steps[id(last)]

    rows = [
        [
            e.cost,
            e.base_w,
            e.total_w,
            [load_number(load) for load in e.loads],
            past_number(e.past),
            [list(run) for run in e.runs],
            e.held,
            e.held_since_s,
            e.held_ws,
            [list(burst) for burst in e.bursts],
        ]
        for e in hypotheses
    ]
    return {"loads": load_rows, "past_steps": past_rows, "hypotheses": rows}


def load_hypotheses(state: Mapping[str, Any]) -> list[Hypothesis]:
    """Return the hypotheses that `save` gave."""
    loads = [
        ActiveLoad(
            index,
            number,
            power,
            since,
            start,
            tuple(draws),
            tuple((count, mean, to, streak) for count, mean, to, streak in dwells),
            (scale, shape, long),
            partial,
        )
        for index, number, power, since, start, draws, dwells, (
            scale,
            shape,
            long,
        ), partial in state["loads"]
    ]
    past_steps: list[PastStep] = []
    for parent, start, end, level, base, held, edge, rivals in state["past_steps"]:
        past_step = PastStep(
            None if parent is None else past_steps[parent],
            start,
            end,
            level,
            base,
            tuple(loads[number] for number in held),
            edge,
        )
        past_step.rivals = tuple((gap, _spans(runs)) for gap, runs in rivals)
        past_steps.append(past_step)
    return [
        Hypothesis(
            cost,
            base,
            total,
            tuple(loads[number] for number in held),
            None if past is None else past_steps[past],
            _spans(runs),
            count,
            since,
            energy,
            tuple((draw, on, at, times) for draw, on, at, times in bursts),
        )
        for cost, base, total, held, past, runs, count, since, energy, bursts in state[
            "hypotheses"
        ]
    ]


def _spans(rows: list[list[Any]]) -> tuple[RunSpan, ...]:
    return tuple((index, start, end) for index, start, end in rows)


def segment_row(segment: Segment) -> list[Any]:
    """Return a segment, JSON-able."""
    return [
        segment.start_s,
        segment.end_s,
        [
            [a.appliance, a.run_start_s, a.power_w, str(a.phase), a.confidence]
            for a in segment.activities
        ],
        segment.unnamed_w,
    ]


def segment_of(row: list[Any]) -> Segment:
    """Return the segment that `segment_row` wrote."""
    return Segment(
        row[0],
        row[1],
        tuple(Activity(a, b, c, Phase(d), e) for a, b, c, d, e in row[2]),
        row[3],
    )
