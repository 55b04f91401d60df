"""Save and restore hypotheses, what they share kept shared."""

from dataclasses import dataclass
from typing import TypedDict

from ...stateful import Row, from_row, row
from ..model.bursts import Burst
from ..model.hypothesis import ActiveLoad, Dwells, Hypothesis, PastStep, Rival, RunSpan


@dataclass(frozen=True, slots=True)
class _LoadRow:
    index: int
    state: int
    power_w: float
    since_s: float
    run_start_s: float
    draws: tuple[float | None, ...]
    dwells: Dwells
    law: tuple[float, float, float]
    partial: bool


@dataclass(frozen=True, slots=True)
class _PastRow:
    parent: int | None
    start_s: float
    end_s: float
    level_w: float | None
    base_w: float
    loads: tuple[int, ...]
    edge: bool
    rivals: tuple[Rival, ...]


@dataclass(frozen=True, slots=True)
class _HypothesisRow:
    cost: float
    base_w: float
    total_w: float
    loads: tuple[int, ...]
    past: int | None
    runs: tuple[RunSpan, ...]
    held: int
    held_since_s: float
    held_ws: float
    bursts: tuple[Burst, ...]


class HypothesesState(TypedDict):
    """What `save_hypotheses` gives: loads and past steps are named by their number."""

    loads: list[Row]
    past_steps: list[Row]
    hypotheses: list[Row]


def save_hypotheses(hypotheses: list[Hypothesis]) -> HypothesesState:
    """Return hypotheses with their pasts, JSON-able."""
    loads: dict[int, int] = {}
    load_rows: list[Row] = []
    past_steps: dict[int, int] = {}
    past_rows: list[Row] = []

    def load_number(load: ActiveLoad) -> int:
        number = loads.get(id(load))
        if number is None:
            number = loads[id(load)] = len(load_rows)
            load_rows.append(
                row(
                    _LoadRow(
                        load.index,
                        load.state,
                        load.power_w,
                        load.since_s,
                        load.run_start_s,
                        load.draws,
                        load.dwells,
                        (load.scale_s, load.shape, load.long_s),
                        load.partial,
                    )
                )
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
            parent = past_step.parent
            past_rows.append(
                row(
                    _PastRow(
                        None if parent is None else past_steps[id(parent)],
                        past_step.start_s,
                        past_step.end_s,
                        past_step.level_w,
                        past_step.base_w,
                        tuple(load_number(load) for load in past_step.loads),
                        past_step.edge,
                        past_step.rivals,
                    )
                )
            )
        return None if last is None else past_steps[id(last)]

    rows: list[Row] = [
        row(
            _HypothesisRow(
                e.cost,
                e.base_w,
                e.total_w,
                tuple(load_number(load) for load in e.loads),
                past_number(e.past),
                e.runs,
                e.held,
                e.held_since_s,
                e.held_ws,
                e.bursts,
            )
        )
        for e in hypotheses
    ]
    return {"loads": load_rows, "past_steps": past_rows, "hypotheses": rows}


def load_hypotheses(state: HypothesesState) -> list[Hypothesis]:
    """Return the hypotheses that `save_hypotheses` gave.

    Raises:
        StateError: a row is of another form, or names a load or a step that is not there.
    """
    loads = [_load(from_row(_LoadRow, one)) for one in state["loads"]]
    past_steps: list[PastStep] = []
    for one in state["past_steps"]:
        saved = from_row(_PastRow, one)
        past_step = PastStep(
            None if saved.parent is None else past_steps[saved.parent],
            saved.start_s,
            saved.end_s,
            saved.level_w,
            saved.base_w,
            tuple(loads[number] for number in saved.loads),
            saved.edge,
        )
        past_step.rivals = saved.rivals
        past_steps.append(past_step)
    return [
        Hypothesis(
            saved.cost,
            saved.base_w,
            saved.total_w,
            tuple(loads[number] for number in saved.loads),
            None if saved.past is None else past_steps[saved.past],
            saved.runs,
            saved.held,
            saved.held_since_s,
            saved.held_ws,
            saved.bursts,
        )
        for saved in (from_row(_HypothesisRow, one) for one in state["hypotheses"])
    ]


def _load(saved: _LoadRow) -> ActiveLoad:
    return ActiveLoad(
        saved.index,
        saved.state,
        saved.power_w,
        saved.since_s,
        saved.run_start_s,
        saved.draws,
        saved.dwells,
        saved.law,
        saved.partial,
    )
