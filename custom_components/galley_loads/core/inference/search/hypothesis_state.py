"""Save and restore explanations, shared parts kept shared, and segments."""

from collections.abc import Mapping
from typing import Any

from ..model.activity import Activity, Phase, Segment
from ..model.hypothesis import Explanation, Moment, Part, RunSpan


def save(explanations: list[Explanation]) -> dict[str, Any]:
    """Return explanations with their pasts, JSON-able."""
    parts: dict[int, int] = {}
    part_rows: list[list[Any]] = []
    moments: dict[int, int] = {}
    moment_rows: list[list[Any]] = []

    def part_number(part: Part) -> int:
        number = parts.get(id(part))
        if number is None:
            number = parts[id(part)] = len(part_rows)
            part_rows.append(
                [
                    part.index,
                    part.state,
                    part.power_w,
                    part.since_s,
                    part.run_start_s,
                    list(part.draws),
                    [list(stay) for stay in part.stays],
                    [part.scale_s, part.shape, part.long_s],
                    part.partial,
                ]
            )
        return number

    def moment_number(last: Moment | None) -> int | None:
        chain: list[Moment] = []
        moment = last
        while moment is not None and id(moment) not in moments:
            chain.append(moment)
            moment = moment.parent
        for moment in reversed(chain):
            moments[id(moment)] = len(moment_rows)
            moment_rows.append(
                [
                    None if moment.parent is None else moments[id(moment.parent)],
                    moment.start_s,
                    moment.end_s,
                    moment.level_w,
                    moment.base_w,
                    [part_number(part) for part in moment.parts],
                    moment.edge,
                    [[gap, [list(run) for run in runs]] for gap, runs in moment.rivals],
                ]
            )
        return None if last is None else moments[id(last)]

    rows = [
        [
            e.cost,
            e.base_w,
            e.total_w,
            [part_number(part) for part in e.parts],
            moment_number(e.past),
            [list(run) for run in e.runs],
            e.held,
            e.held_since_s,
            e.held_ws,
            [list(burst) for burst in e.bursts],
        ]
        for e in explanations
    ]
    return {"parts": part_rows, "moments": moment_rows, "explanations": rows}


def load(state: Mapping[str, Any]) -> list[Explanation]:
    """Return the explanations that `save` gave."""
    parts = [
        Part(
            index,
            number,
            power,
            since,
            start,
            tuple(draws),
            tuple((count, mean, to, streak) for count, mean, to, streak in stays),
            (scale, shape, long),
            partial,
        )
        for index, number, power, since, start, draws, stays, (
            scale,
            shape,
            long,
        ), partial in state["parts"]
    ]
    moments: list[Moment] = []
    for parent, start, end, level, base, held, edge, rivals in state["moments"]:
        moment = Moment(
            None if parent is None else moments[parent],
            start,
            end,
            level,
            base,
            tuple(parts[number] for number in held),
            edge,
        )
        moment.rivals = tuple((gap, _spans(runs)) for gap, runs in rivals)
        moments.append(moment)
    return [
        Explanation(
            cost,
            base,
            total,
            tuple(parts[number] for number in held),
            None if past is None else moments[past],
            _spans(runs),
            count,
            since,
            energy,
            tuple((draw, on, at, times) for draw, on, at, times in bursts),
        )
        for cost, base, total, held, past, runs, count, since, energy, bursts in state[
            "explanations"
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
