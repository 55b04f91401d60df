"""How long a dwell lasts, and what a run's own pulses say of the next one."""

from itertools import pairwise
from math import exp, log

import pytest
from scipy.stats import fisk

from custom_components.galley_loads.core.inference.model.dwell_laws import (
    MOST_CYCLES,
    choice_costs,
    dwell_laws,
    last_chances,
)
from custom_components.galley_loads.core.inference.model.dwell_time import (
    choice_cost,
    dwell_hazard,
    dwell_law,
    dwell_survival,
    last_dwell,
)
from custom_components.galley_loads.core.inference.model.hypothesis import (
    NO_DWELL,
    ActiveLoad,
)
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from tests.core.inference.galley import COFFEE, HOB, OVEN

REST = next(s for s in build_machine(0, OVEN).states if s.name == "rest")
HEAT = next(s for s in build_machine(0, OVEN).states if s.name == "heat")


def resting(*pauses_s: float, to: int = 2) -> ActiveLoad:
    """Return an oven's rest after pauses of those lengths."""
    count = len(pauses_s)
    dwells = [NO_DWELL, NO_DWELL]
    if count:
        mean = sum(map(log, pauses_s)) / count
        dwells[REST.alike] = (count, mean, to, count)
    reported = tuple(dwells)
    return ActiveLoad(0, 1, 30.0, 0.0, 0.0, (), reported, dwell_law(REST, reported))


@pytest.mark.parametrize("age_s", [5.0, 60.0, 400.0])
def test_without_pauses_of_its_own_a_run_follows_the_log_logistic_law(age_s):
    law = fisk(REST.shape, scale=REST.scale_s)  # scipy's name for the log-logistic law
    load = resting()
    rate, survival = dwell_hazard(load, REST, age_s)
    assert survival == pytest.approx(law.sf(age_s))
    assert dwell_survival(load, REST, age_s) == pytest.approx(law.sf(age_s))
    assert rate == pytest.approx(law.pdf(age_s) / law.sf(age_s))


@pytest.mark.parametrize("age_s", [20.0, 90.0, 300.0])
def test_with_pauses_of_its_own_it_follows_a_mixture_of_two_such_laws(age_s):
    load = resting(80.0, 84.0, 79.0)
    usual, own = (
        fisk(REST.shape, scale=REST.scale_s),
        fisk(load.shape, scale=load.scale_s),
    )
    mixed = 0.2 * usual.sf(age_s) + 0.8 * own.sf(age_s)
    density = 0.2 * usual.pdf(age_s) + 0.8 * own.pdf(age_s)
    assert dwell_survival(load, REST, age_s) == pytest.approx(mixed)
    assert dwell_hazard(load, REST, age_s) == pytest.approx((density / mixed, mixed))


def test_nothing_has_ended_before_it_began():
    assert dwell_survival(resting(), REST, 0.0) == 1.0


def test_the_next_pause_is_foreseen_to_be_like_those_before():
    load = resting(50.0, 52.0, 48.0, 50.0)
    assert load.scale_s == pytest.approx(50.0, rel=0.1)
    assert load.shape > REST.shape
    assert load.scale_s < load.long_s < 2.0 * load.scale_s


def test_pauses_that_no_oven_makes_are_not_followed_far():
    assert resting(2.0, 2.0, 2.0, 2.0).scale_s > 10.0
    assert resting(*[3000.0] * 4).scale_s < 600.0


def test_the_law_narrows_with_every_pause_seen():
    laws = dwell_laws(10.0, 200.0)
    weights, shapes, longs = zip(*laws, strict=True)
    assert all(a < b for a, b in pairwise(weights))
    assert all(a < b for a, b in pairwise(shapes))
    assert all(a > b for a, b in pairwise(longs))
    assert weights[0] == 0.0


def test_a_hundred_cycles_are_little_more_proof_against_an_end_than_ten():
    chances = last_chances(0.1)
    assert chances[0][0] == pytest.approx(0.1)
    # The expectation of a beta law after successes of its complement.
    assert chances[6][0] == pytest.approx(0.1 * 3 / 9)
    spent = [cost for _, cost in chances]
    assert sum(spent[:10]) < 0.6
    assert sum(spent[10:MOST_CYCLES]) < sum(spent[:10])


def test_what_always_ends_still_has_a_finite_price():
    assert last_chances(1.0)[0][1] < 50.0


def test_what_a_run_did_it_does_again():
    again, instead = choice_costs(0.3)
    assert exp(-again[0]) == pytest.approx(0.3)
    assert again[5] < again[1] < again[0]
    assert instead[5] > instead[1] > instead[0]


def test_the_ways_to_go_on_stay_chances_that_add_up_to_one():
    first, second = choice_costs(0.7), choice_costs(0.3)
    for streak in range(MOST_CYCLES + 1):
        total = exp(-first[0][streak]) + exp(-second[1][streak])
        assert total == pytest.approx(1.0)


def test_a_coffee_maker_that_kept_warm_at_part_power_does_so_again():
    machine = build_machine(0, COFFEE)
    rest = next(s for s in machine.states if s.name == "rest")
    low = next(f for f in rest.follows if machine.states[f.state].name == "keep low")
    full = next(f for f in rest.follows if machine.states[f.state].name == "keep")
    dwells = [NO_DWELL] * machine.alike
    dwells[rest.alike] = (3, log(100.0), low.state, 3)
    reported = tuple(dwells)
    load = ActiveLoad(0, 1, 0.0, 0.0, 0.0, (), reported, dwell_law(rest, reported))
    assert choice_cost(load, rest, low) < low.cost
    assert choice_cost(load, rest, full) > full.cost


def test_a_heating_up_has_nothing_to_be_alike_to():
    load = ActiveLoad(0, 0, 1480.0, 0.0, 0.0, (), (NO_DWELL, NO_DWELL), (1.0, 1.0, 1.0))
    assert HEAT.alike < 0
    assert last_dwell(load, HEAT) == HEAT.last[0]
    assert choice_cost(load, HEAT, HEAT.follows[0]) == HEAT.follows[0].cost


def test_only_a_hob_is_restless():
    assert build_machine(0, HOB).unrest_per_s > 0.0
    assert build_machine(0, OVEN).unrest_per_s == 0.0
