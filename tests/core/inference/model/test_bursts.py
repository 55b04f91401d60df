"""A pump that ran a moment ago runs again: what the base load did proves little."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.inference.model.base_load_steps import (
    BaseLoadSteps,
)
from custom_components.galley_loads.core.inference.model.bursts import (
    KEPT,
    Burst,
    remembered,
    return_cost,
    returning,
)

PERIOD_S = 2.0
METER = 4.0
"""Variance of a step between two readings of a good meter, W squared."""


def pump(*steps: tuple[float, float]) -> tuple[Burst, ...]:
    """Return what is remembered after steps of so many W at so many seconds."""
    bursts: tuple[Burst, ...] = ()
    for at_s, step_w in steps:
        bursts = remembered(bursts, step_w, at_s, returning(bursts, step_w, METER))
    return bursts


def test_what_came_on_is_expected_to_go_off_again():
    bursts = pump((0.0, 80.0))
    assert returning(bursts, -80.0, METER) == 0
    assert returning(bursts, 80.0, METER) == -1


def test_what_went_off_is_expected_to_come_back():
    bursts = pump((0.0, 80.0), (12.0, -80.0))
    assert len(bursts) == 1
    assert returning(bursts, 80.0, METER) == 0


def test_a_motor_may_draw_a_few_percent_more_the_next_time():
    bursts = pump((0.0, 80.0), (12.0, -80.0))
    assert returning(bursts, 84.0, METER) == 0
    assert returning(bursts, 130.0, METER) == -1


def test_a_pump_in_use_costs_less_than_a_lamp_never_seen():
    bursts = pump((0.0, 80.0), (12.0, -80.0))
    again = return_cost(bursts[0], 80.0, 30.0, PERIOD_S, METER)
    assert again < BaseLoadSteps().cost(80.0, PERIOD_S) - 2.0


@given(st.floats(1.0, 3000.0), st.floats(1.0, 3000.0))
def test_the_longer_ago_the_less_it_is_expected(one_s: float, two_s: float):
    burst = pump((0.0, 80.0))[0]
    sooner, later = sorted((one_s, two_s))
    assert return_cost(burst, -80.0, sooner, PERIOD_S, METER) <= return_cost(
        burst, -80.0, later, PERIOD_S, METER
    )


def test_the_closer_the_step_the_likelier_it_is_the_same_pump():
    burst = pump((0.0, 80.0))[0]
    close = return_cost(burst, -81.0, 10.0, PERIOD_S, METER)
    assert close < return_cost(burst, -88.0, 10.0, PERIOD_S, METER)


@given(st.lists(st.tuples(st.floats(0, 5000), st.floats(-400, 400)), max_size=40))
def test_memory_stays_small_whatever_runs(steps: list[tuple[float, float]]):
    assert len(pump(*sorted(steps))) <= KEPT


def test_wobbles_are_not_remembered():
    assert pump((0.0, 5.0), (10.0, -3.0)) == ()


def test_of_two_alike_the_latest_is_the_one():
    bursts = pump((0.0, 80.0), (100.0, 82.0))
    assert bursts[returning(bursts, -81.0, METER)][2] == pytest.approx(100.0)


def washing(times: int) -> tuple[Burst, ...]:
    """Return what is remembered after that many bursts of ten seconds, twenty apart."""
    return pump(
        *((30.0 * n + at_s, step_w) for n in range(times) for at_s, step_w in BURST)
    )


BURST = ((0.0, 80.0), (10.0, -80.0))


def test_nobody_washes_up_for_a_hundred_bursts():
    few, many = washing(4)[0], washing(80)[0]
    soon = return_cost(few, 80.0, few[2] + 20.0, PERIOD_S, METER)
    assert return_cost(many, 80.0, many[2] + 20.0, PERIOD_S, METER) > soon + 3.0


def test_after_a_pause_a_pump_begins_to_count_anew():
    bursts = pump(*((30.0 * n + at, w) for n in range(80) for at, w in BURST))
    later = remembered(bursts, 80.0, 9000.0, returning(bursts, 80.0, METER))
    assert later[0][3] == 0
