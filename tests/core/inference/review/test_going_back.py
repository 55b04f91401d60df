"""What is no run after all: a pump's strokes are no kneading, however long they last."""

import pytest

from custom_components.galley_loads.core.inference.learning.learned_power import (
    PowerBelief,
)
from custom_components.galley_loads.core.inference.model.hypothesis import (
    ActiveLoad,
    PastStep,
)
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from custom_components.galley_loads.core.inference.review.run_shape import run_shapes
from custom_components.galley_loads.core.inference.review.run_verdict import (
    LEFT,
    Settled,
    run_verdicts,
)
from tests.core.inference.galley import (
    BREAD_MAKER,
    HOB,
    KETTLE,
    Piece,
    boat,
    drawn,
    reported,
)

BEGIN_S = 3600.0


@pytest.mark.parametrize("stroke", [[(8, 85), (9, 0)], [(20, 85), (25, 0)]])
def test_a_pump_that_strokes_for_hours_is_never_reported_as_a_bread_maker(
    stroke: list[Piece],
):
    """Long runs settle piece by piece: what was not reported of one is not reported later."""
    seconds = sum(length for length, _ in stroke)
    strokes = stroke * int(9000 / seconds)
    samples = drawn((BEGIN_S, strokes), until_s=BEGIN_S + 13_000)
    assert reported(boat(HOB, BREAD_MAKER), samples) == []


def test_a_bread_maker_that_heats_after_kneading_is_reported_with_its_kneading():
    kneads: list[Piece] = [(20, 85), (25, 0)] * 27
    proves: list[Piece] = [(30, 600), (240, 0)] * 12
    bakes: list[Piece] = [(600, 600), *[(60, 0), (60, 600)] * 15]
    samples = drawn((BEGIN_S, [*kneads, *proves, *bakes]), until_s=BEGIN_S + 9_500)
    (run,) = reported(boat(HOB, BREAD_MAKER), samples)
    assert run.appliance == "Bread maker"
    assert run.start_s == pytest.approx(BEGIN_S, abs=120)


def test_one_middle_level_alone_from_start_to_end_is_nobodys_cooking():
    samples = drawn((600, [(480, 1060)]), until_s=7200)
    assert reported(boat(HOB, KETTLE), samples) == []


def test_one_middle_level_beside_the_kettle_may_be_an_egg():
    samples = drawn((600, [(180, 1400)]), (840, [(150, 2000)]), until_s=7200)
    hob, kettle = sorted(
        reported(boat(HOB, KETTLE), samples), key=lambda run: run.start_s
    )
    assert (hob.appliance, kettle.appliance) == ("Hob", "Kettle")
    assert hob.confidence <= LEFT < kettle.confidence


def test_a_knob_that_is_turned_makes_a_hob():
    samples = drawn((600, [(200, 1500), (400, 900), (300, 500)]), until_s=7200)
    (run,) = reported(boat(HOB, KETTLE), samples)
    assert run.appliance == "Hob"
    assert run.confidence > LEFT


def test_a_hob_that_somebody_forgot_is_nobodys_when_it_settles_but_not_while_it_is_on():
    machine = build_machine(0, HOB)
    load = ActiveLoad(0, 0, 1060.0, 0.0, 0.0, (), (), (1.0, 1.0, 1.0))
    shapes = run_shapes(
        (machine,), [PastStep(None, 0.0, 2000.0, 1120.0, 60.0, (load,), False)]
    )
    forgotten = (0, 0.0)

    def nobodys(settled: Settled, *, live: bool) -> bool:
        found = run_verdicts(
            (machine,),
            (PowerBelief(1800.0),),
            shapes,
            {forgotten},
            settled,
            live=live,
        )
        return found[forgotten].goes_back

    assert nobodys(Settled((), (), -1e9), live=False)
    assert not nobodys(Settled((), (), -1e9), live=True)
    assert nobodys(Settled({forgotten}, {forgotten}, -1e9), live=False)
    assert not nobodys(Settled({forgotten}, {forgotten}, -1e9), live=True)
