"""A planned dish against what it took."""

import json

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.meals.expected_meals import (
    BEFORE_S,
    MEALS_KEPT,
    Expectation,
    ExpectedMeals,
)
from custom_components.galley_loads.core.meals.meal_builder import HOT_DRINK, Meal

from .meals_made import made_meal, made_run

START_S = 1_779_000_000.0
BREAD = Expectation("Bread", ("Oven",), 400.0, 31.0)


def meal(
    start_s: float = START_S, energy_wh: float = 460.0, name: str = "Oven"
) -> Meal:
    return made_meal(made_run(name, start_s, 60, energy_wh), label="dinner")


def expecting(expectation: Expectation | None = BREAD) -> ExpectedMeals:
    expected = ExpectedMeals()
    expected.begin(meal(), expectation)
    return expected


def test_the_planned_dish_is_what_the_meal_was_expected_to_be() -> None:
    # The start is told a little differently once it is settled.
    expected = expecting()
    assert expected.of(meal(START_S + 120)) == BREAD
    assert expected.of(meal(START_S - 600)) == BREAD
    assert expected.knows(meal(START_S + 120))


def test_a_dish_that_took_more_than_expected_is_told_so() -> None:
    expected = expecting()
    assert expected.settle(meal())
    assert expected.last is not None
    assert (expected.last.dish, expected.last.difference_wh) == ("Bread", 60.0)
    assert expected.last.difference_percent == pytest.approx(15.0)


def test_a_meal_cooked_with_something_else_was_another() -> None:
    expected = expecting()
    assert expected.of(meal(name="Hob")) is None
    assert not expected.settle(meal(name="Hob"))
    assert expected.last is None


def test_a_cup_of_tea_is_no_dish_of_unknown_appliances() -> None:
    expected = expecting(Expectation("Stew", (), 400.0))
    tea = made_meal(made_run("Kettle", START_S, 4, 100), label=HOT_DRINK)
    assert expected.of(tea) is None
    assert expected.of(meal(name="Hob")) is not None


def test_what_was_not_planned_when_it_began_was_not_expected() -> None:
    expected = expecting(None)
    assert expected.knows(meal())
    assert expected.reckon(meal()) is None
    assert expected.of(meal(START_S - 9000)) is None


def test_the_next_meal_does_not_take_the_plan_of_the_one_before() -> None:
    expected = expecting()
    breakfast = meal(START_S + 5500)
    assert not expected.knows(breakfast)
    expected.begin(breakfast, None)
    # Settled an hour later, when the next one has begun.
    assert expected.of(meal()) == BREAD
    assert expected.of(breakfast) is None


def test_with_a_short_pause_between_meals_each_has_its_own_plan() -> None:
    expected = expecting()
    stew = Expectation("Stew", ("Oven",), 300.0)
    short = made_meal(made_run("Oven", START_S + BEFORE_S + 10, 5, 90))
    expected.begin(short, stew)
    assert expected.of(meal(START_S)) == BREAD
    assert expected.of(short) == stew


def test_a_meal_that_is_told_again_changes_nothing() -> None:
    expected = expecting()
    expected.settle(meal())
    later = meal(START_S + 20_000, 380.0)
    expected.begin(later, BREAD)
    assert expected.settle(later)
    kept = expected.snapshot()
    assert not expected.settle(later)
    assert not expected.settle(meal())
    assert expected.snapshot() == kept


def test_only_the_last_few_meals_are_kept() -> None:
    expected = ExpectedMeals()
    for number in range(50):
        expected.begin(meal(START_S + 9000 * number), BREAD)
    assert len(expected.snapshot()["begun"]) == MEALS_KEPT


@given(
    plans=st.lists(st.one_of(st.none(), st.floats(1.0, 5000.0)), max_size=6),
    cut=st.integers(0, 6),
)
def test_a_restart_anywhere_changes_nothing(
    plans: list[float | None], cut: int
) -> None:
    unbroken, broken = ExpectedMeals(), ExpectedMeals()
    for number, wh in enumerate(plans):
        if number == cut:
            restored = ExpectedMeals()
            restored.restore(json.loads(json.dumps(broken.snapshot())))
            broken = restored
        one = meal(START_S + 9000 * number)
        for expected in (unbroken, broken):
            expected.begin(
                one, None if wh is None else Expectation("Stew", (), wh, 3.0)
            )
            expected.settle(one)
    assert broken.snapshot() == unbroken.snapshot()
    assert broken.last == unbroken.last


@pytest.mark.parametrize(
    "state", [{}, {"begun": 3, "last": None}, {"begun": [], "last": [1.0]}]
)
def test_what_cannot_be_read_leaves_everything_as_it_was(state: dict) -> None:
    expected = expecting()
    with pytest.raises((KeyError, TypeError, ValueError)):
        expected.restore(state)
    assert expected.of(meal()) == BREAD
