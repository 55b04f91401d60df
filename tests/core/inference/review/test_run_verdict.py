"""A run is trusted as far as the power at which it heated bears it out."""

import pytest

from custom_components.galley_loads.core.inference.learning.learned_power import (
    PowerBelief,
)
from custom_components.galley_loads.core.inference.model.hypothesis import (
    UNNAMED,
    ActiveLoad,
    PastStep,
)
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from custom_components.galley_loads.core.inference.review.run_shape import run_shapes
from custom_components.galley_loads.core.inference.review.run_verdict import (
    ALMOST,
    ANY_LEVEL,
    FAR,
    FAR_TOO_BRIEF,
    FAR_TOO_LONG,
    LEFT,
    SHORT,
    Settled,
    run_verdicts,
)
from tests.core.inference.galley import HOB, KETTLE, OVEN

MACHINES = tuple(build_machine(i, a) for i, a in enumerate((KETTLE, HOB, OVEN)))
BOIL = 0
NOTHING_SETTLED = Settled((), (), 0.0)
KETTLE_NUMBER, HOB_NUMBER, OVEN_NUMBER = range(3)


def beliefs(*kettle_w: float) -> tuple[PowerBelief, ...]:
    """Return beliefs, that in the kettle's power learnt from such runs."""
    kettle = PowerBelief(KETTLE.rated_power_w)
    for watts in kettle_w:
        kettle.add(watts)
    return kettle, PowerBelief(HOB.rated_power_w), PowerBelief(OVEN.rated_power_w)


def state_number(number: int, name: str) -> int:
    """Return the number of a machine's state of that name."""
    return [state.name for state in MACHINES[number].states].index(name)


def dwell(
    number: int,
    state: int,
    power_w: float,
    seconds: float = 180.0,
    *,
    edge: bool = False,
) -> PastStep:
    load = ActiveLoad(number, state, power_w, 0.0, 0.0, (), (), (1.0, 1.0, 1.0))
    return PastStep(None, 0.0, seconds, power_w + 60.0, 60.0, (load,), edge)


def factor(past_step: PastStep, *kettle_w: float, goes_on: bool = False) -> float:
    load = past_step.loads[0]
    running = {(load.index, load.run_start_s)} if goes_on else set()
    shapes = run_shapes(MACHINES, [past_step])
    found = run_verdicts(
        MACHINES, beliefs(*kettle_w), shapes, running, NOTHING_SETTLED, live=True
    )
    return found[load.run].confidence_factor


KNOWN = (1960.0,) * 8


def test_a_kettle_at_its_own_power_is_trusted():
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1965.0), *KNOWN) == 1.0


@pytest.mark.parametrize(
    ("power_w", "trust"), [(1895.0, ALMOST), (2030.0, ALMOST), (1760.0, FAR)]
)
def test_the_further_from_the_known_power_the_less(power_w: float, trust: float):
    assert factor(dwell(KETTLE_NUMBER, BOIL, power_w), *KNOWN) == trust


def test_a_plate_that_may_be_off_by_a_tenth_allows_more_than_a_known_power():
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1910.0)) == 1.0
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1910.0), *KNOWN) == ALMOST


def test_a_level_that_may_be_anything_proves_little():
    level = state_number(HOB_NUMBER, "level")
    assert factor(dwell(HOB_NUMBER, level, 1100.0), goes_on=True) == ANY_LEVEL


def test_a_level_that_nobody_touched_proves_least():
    level = state_number(HOB_NUMBER, "level")
    untouched = dwell(HOB_NUMBER, level, 1100.0, 600.0)
    assert factor(untouched) == pytest.approx(ANY_LEVEL * LEFT)
    at_full_power = dwell(HOB_NUMBER, level, 1790.0, 600.0)
    assert factor(at_full_power) == ANY_LEVEL


def test_an_oven_that_only_ever_ran_one_element_is_doubtful():
    element = state_number(OVEN_NUMBER, "element")
    assert factor(dwell(OVEN_NUMBER, element, 700.0, 1800.0)) == FAR


def test_less_than_a_minute_has_hardly_any_shape():
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1960.0, 45.0), *KNOWN) == SHORT


def test_nobody_knows_yet_how_long_what_runs_will_be():
    begun = dwell(KETTLE_NUMBER, BOIL, 1960.0, 45.0)
    assert factor(begun, *KNOWN, goes_on=True) == 1.0


def test_a_step_that_the_meter_caught_half_way_counts_for_nothing():
    edge = dwell(KETTLE_NUMBER, BOIL, 900.0, edge=True)
    assert factor(edge, *KNOWN) == 1.0


def test_what_nobody_named_has_no_power_to_match():
    unnamed = dwell(UNNAMED, 0, 500.0)
    assert run_shapes(MACHINES, [unnamed]) == {}


def test_a_boil_of_half_a_minute_was_seldom_the_kettles():
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1960.0, 30.0), *KNOWN) == FAR_TOO_BRIEF


def test_a_boil_of_twenty_minutes_was_seldom_the_kettles():
    assert factor(dwell(KETTLE_NUMBER, BOIL, 1960.0, 1200.0), *KNOWN) == FAR_TOO_LONG


def test_the_last_minutes_of_a_run_are_judged_with_what_went_before():
    ends = dwell(KETTLE_NUMBER, BOIL, 1960.0, 30.0)
    began = ActiveLoad(
        KETTLE_NUMBER, BOIL, 1960.0, 0.0, -180.0, (), (), (1.0, 1.0, 1.0)
    )
    late = PastStep(None, 0.0, 30.0, 2020.0, 60.0, (began,), False)
    assert factor(late, *KNOWN) == 1.0 > factor(ends, *KNOWN)
