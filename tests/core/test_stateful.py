"""Saving and taking up state: the same comes back, and nothing else is taken."""

import json
from typing import Literal, NamedTuple, TypedDict

import pytest

from custom_components.galley_loads.core.inference.model.activity import (
    Phase,
    PhaseSpan,
    Run,
)
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.stateful import (
    StateError,
    checked,
    from_row,
    row,
)

RUN = Run(
    "Hob",
    100.0,
    400.0,
    55.5,
    1800.0,
    0.9,
    (PhaseSpan(Phase.HEATING, 100.0, 160.0), PhaseSpan(Phase.HOLDING, 160.0, 400.0)),
    4.5,
)
MEAL = Meal(
    100.0, 400.0, "lunch", ("Hob",), 55.5, 4.5, 0.0, None, 0.5, 80.0, None, (RUN,)
)
SAMPLE = LoadSample(
    7.0, 120.5, metered_w=(("Bath", None), ("Oven", 3.0)), open_circuits=frozenset("BA")
)


class Watch(TypedDict):
    """The state of a machine made up for these tests."""

    since_s: float | None
    steps: list[tuple[float, str]]
    by_name: dict[str, list[float]]


WATCH: Watch = {"since_s": None, "steps": [(1.0, "up")], "by_name": {"Hob": [2.0]}}


@pytest.mark.parametrize("data", [RUN, MEAL, SAMPLE], ids=["run", "meal", "sample"])
def test_plain_data_comes_back_from_a_file_as_it_was(data: object) -> None:
    stored = json.loads(json.dumps(row(data)))
    assert from_row(type(data), stored) == data


def test_a_state_comes_back_from_a_file_as_it_was() -> None:
    assert checked(Watch, json.loads(json.dumps(WATCH))) == WATCH


def test_a_number_without_a_fraction_is_a_float_too() -> None:
    assert checked(float, json.loads("3")) == 3.0


@pytest.mark.parametrize(
    ("odd", "told"),
    [
        ({"since_s": "noon"}, "stored state: since_s: 'noon' is not float"),
        ({"since_s": True}, "stored state: since_s: True is not float"),
        ({"steps": 3}, "stored state: steps: 3 is not list"),
        ({"steps": [[1.0]]}, "steps: in a list: "),
        ({"by_name": {"Hob": [None]}}, "by_name: Hob: in a list: None is not float"),
        ({"extra": 1}, "Watch: missing or unknown: extra"),
    ],
)
def test_a_state_of_another_form_is_refused_with_its_place(
    odd: dict[str, object], told: str
) -> None:
    with pytest.raises(StateError) as caught:
        checked(Watch, {**WATCH, **odd})
    assert told in str(caught.value)


def test_a_state_with_a_part_missing_is_refused() -> None:
    with pytest.raises(StateError, match="missing or unknown: steps"):
        checked(Watch, {key: part for key, part in WATCH.items() if key != "steps"})


@pytest.mark.parametrize(
    "change",
    [lambda r: r[:-1], lambda r: [*r, 0.0], lambda r: ["Hob", None, *r[2:]]],
    ids=["too short", "too long", "wrong type"],
)
def test_a_row_of_another_form_is_refused(change) -> None:
    with pytest.raises(ValueError, match="stored state: "):
        from_row(Run, change(row(RUN)))


def test_a_phase_that_does_not_exist_is_refused() -> None:
    stored = row(RUN)
    stored[6][0][0] = "boiling over"
    with pytest.raises(StateError, match=r"Run\.phases.*boiling over"):
        from_row(Run, stored)


class Step(NamedTuple):
    """A row made up for these tests."""

    direction: Literal["up", "down"]
    phase: Phase | None
    at: int | str
    by_name: dict[str, float]


def test_a_word_of_a_few_a_phase_and_one_of_two_types_come_back() -> None:
    step = Step("up", Phase.HOLDING, 3, {"Hob": 2.0})
    assert from_row(Step, json.loads(json.dumps(row(step)))) == step
    step = Step("down", None, "noon", {})
    assert from_row(Step, json.loads(json.dumps(row(step)))) == step


@pytest.mark.parametrize(
    ("stored", "said"),
    [
        (["sideways", None, 3, {}], "Step.direction: 'sideways' is not "),
        (["up", "boiling over", 3, {}], "Step.phase: 'boiling over' is not Phase"),
        (["up", None, 1.5, {}], "Step.at: 1.5 is not "),
        (["up", None, 3, []], "Step.by_name: [] is not "),
        ("x" * 100, "..."),
    ],
)
def test_what_is_none_of_what_may_stand_there_is_refused(
    stored: object, said: str
) -> None:
    with pytest.raises(StateError) as caught:
        checked(Step, stored)
    assert said in str(caught.value)


@pytest.mark.parametrize("form", [complex, set[int]])
def test_a_type_that_no_file_can_hold_is_an_error_of_ours(form: type) -> None:
    with pytest.raises(TypeError, match="cannot be part of a state"):
        checked(form, [])


class Ambiguous(NamedTuple):
    """A row of which a file could not say which of the two stands there."""

    what: Phase | PhaseSpan


def test_a_row_that_could_be_two_things_is_an_error_of_ours() -> None:
    with pytest.raises(TypeError, match="from another in a row"):
        row(Ambiguous(Phase.HEATING))
