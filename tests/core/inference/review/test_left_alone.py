"""Runs that were left alone as nobody leaves that kind, and runs of too little heat."""

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance
from custom_components.galley_loads.core.inference.review.run_shape import RunShape
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.kinds.kind import Kind
from tests.core.inference.galley import (
    COFFEE,
    HOB,
    KETTLE,
    MICROWAVE,
    TOASTER,
    Piece,
    appliance,
    boat,
    drawn,
    reported,
)

BEGIN_S = 600.0
COOKED: list[Piece] = [(200, 1500), (150, 900)]
"""Somebody cooks on the hob: a level, and a lower one."""


def names(*appliances: Appliance, pieces: list[Piece]) -> list[str]:
    seconds = sum(length for length, _ in pieces)
    samples = drawn((BEGIN_S, pieces), until_s=BEGIN_S + seconds + 4200)
    return [run.appliance for run in reported(boat(*appliances), samples)]


@pytest.mark.parametrize(
    ("one", "fits", "too_long"),
    [
        (TOASTER, 3.5, 6),
        (KETTLE, 7, 16),
        (MICROWAVE, 10, 20),
        (COFFEE, 8, 15),
    ],
)
def test_nothing_toasts_boils_or_brews_for_so_long(
    one: Appliance, fits: float, too_long: float
):
    assert names(one, pieces=[(60 * fits, one.rated_power_w)]) == [one.name]
    assert names(one, pieces=[(60 * too_long, one.rated_power_w)]) == []


def test_a_hob_whose_knob_was_turned_first_and_then_left_for_long_was_something_else():
    assert names(HOB, KETTLE, pieces=[*COOKED, (300, 1100)]) == ["Hob"]
    assert names(HOB, KETTLE, pieces=[*COOKED, (2400, 1100)]) == []


def test_a_pot_that_simmers_by_itself_for_long_is_still_the_hobs():
    assert names(HOB, KETTLE, pieces=[*COOKED, (2400, 330)]) == ["Hob"]


def test_a_hotplate_may_stay_on_for_half_an_hour():
    hotplate = appliance("Hotplate", catalogue.ELECTRIC_HOB, 1500)
    assert names(hotplate, KETTLE, pieces=[(1900, 1500)]) == ["Hotplate"]


def test_a_pan_that_is_lifted_was_not_left_alone():
    stirred: list[Piece] = [(700, 1100), (8, 0)] * 3
    assert names(HOB, KETTLE, pieces=[*COOKED, *stirred]) == ["Hob"]


def test_a_pressure_cooker_does_not_come_to_pressure_with_a_few_short_pulses():
    cooker = appliance("Pressure cooker", catalogue.PRESSURE_COOKER, 1000)
    pulses: list[Piece] = [(60, 0), (12, 1000)] * 15
    assert names(cooker, pieces=[(900, 1000), *pulses]) == ["Pressure cooker"]
    assert names(cooker, pieces=[(240, 1000), *pulses]) == []


def shape_of(*pieces: tuple[float, str, float]) -> RunShape:
    shape = RunShape(0.0, 0.0)
    for seconds, draw, watts in pieces:
        shape.add(seconds, draw, watts, True)
    return shape


def test_a_pause_ends_what_was_untouched():
    shape = shape_of((300, "level", 1000.0), (5, "small", 0.0), (400, "level", 1000.0))
    assert shape.untouched_s(500.0) == 400.0


def test_a_draw_that_drifts_was_not_touched_and_one_that_steps_was():
    drifts = shape_of(*((100, "level", 1000.0 + 10.0 * step) for step in range(8)))
    steps = shape_of((400, "level", 1000.0), (300, "level", 800.0))
    assert drifts.untouched_s(500.0) == 800.0
    assert steps.untouched_s(500.0) == 400.0
    assert steps.untouched_s(900.0) == 400.0
    assert steps.untouched_s(1200.0) == 0.0


@pytest.mark.parametrize("kind", list(KINDS))
def test_what_is_too_long_for_a_kind_lies_beyond_what_is_usual_for_it(kind: Kind):
    """Eight in ten dwells lie within a state's range: none of those may be forbidden."""
    description = kind.description
    if description.untouched_s:
        assert description.untouched_s > max(
            description.states[name].dwell_s[1] for name in description.starts
        )
