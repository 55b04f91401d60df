"""A boat's fridge and pumps step the base load; that is learnt."""

import pytest

from custom_components.galley_loads.core.inference.model.base_load_steps import (
    BaseLoadSteps,
)

PERIOD_S = 2.0
DAY_S = 86400.0


def boat_with_a_fridge(days: int = 3, steps_a_day: int = 80) -> BaseLoadSteps:
    steps = BaseLoadSteps()
    for _ in range(days):
        for number in range(steps_a_day):
            steps.add(62.0 if number % 2 else -62.0)
        steps.passed(DAY_S)
    return steps


def test_a_step_of_the_fridge_proves_little_once_the_fridge_is_known():
    new, known = BaseLoadSteps(), boat_with_a_fridge()
    assert known.cost(62.0, PERIOD_S) < new.cost(62.0, PERIOD_S) - 1.5


def test_a_step_never_seen_on_the_boat_proves_more_than_on_a_new_one():
    new, known = BaseLoadSteps(), boat_with_a_fridge()
    assert known.cost(150.0, PERIOD_S) > new.cost(150.0, PERIOD_S)


def test_steps_of_any_size_stay_possible():
    known = boat_with_a_fridge()
    assert known.cost(900.0, PERIOD_S) < 20.0


def test_a_quiet_boat_steps_less_than_one_with_a_busy_pump():
    quiet = boat_with_a_fridge(steps_a_day=10)
    busy = boat_with_a_fridge(steps_a_day=300)
    assert busy.cost(62.0, PERIOD_S) < quiet.cost(62.0, PERIOD_S)


def test_wobbles_within_the_noise_are_no_steps():
    steps = BaseLoadSteps()
    for _ in range(500):
        steps.add(4.0)
    assert steps.cost(62.0, PERIOD_S) == BaseLoadSteps().cost(62.0, PERIOD_S)


def test_a_fridge_that_was_replaced_is_forgotten():
    steps = boat_with_a_fridge()
    before = steps.cost(62.0, PERIOD_S)
    steps.passed(60 * DAY_S)
    assert steps.cost(62.0, PERIOD_S) > before


def test_a_restart_changes_nothing():
    steps = boat_with_a_fridge()
    other = BaseLoadSteps()
    other.restore(steps.snapshot())
    for one in (steps, other):
        one.add(62.0)
        one.passed(3600.0)
    assert other.cost(62.0, PERIOD_S) == pytest.approx(steps.cost(62.0, PERIOD_S))
