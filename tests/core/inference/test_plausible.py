"""What is no run after all: a pump's strokes are no kneading, however long they last."""

import pytest

from .galley import BREAD_MAKER, HOB, Piece, boat, drawn, told

BEGIN_S = 3600.0


@pytest.mark.parametrize("stroke", [[(8, 85), (9, 0)], [(20, 85), (25, 0)]])
def test_a_pump_that_strokes_for_hours_is_never_told_as_a_bread_maker(
    stroke: list[Piece],
):
    """Long runs settle piece by piece: what was not told of one is not told later."""
    seconds = sum(length for length, _ in stroke)
    strokes = stroke * int(9000 / seconds)
    samples = drawn((BEGIN_S, strokes), until_s=BEGIN_S + 13_000)
    assert told(boat(HOB, BREAD_MAKER), samples) == []


def test_a_bread_maker_that_heats_after_kneading_is_told_with_its_kneading():
    kneads: list[Piece] = [(20, 85), (25, 0)] * 27
    proves: list[Piece] = [(30, 600), (240, 0)] * 12
    bakes: list[Piece] = [(600, 600), *[(60, 0), (60, 600)] * 15]
    samples = drawn((BEGIN_S, [*kneads, *proves, *bakes]), until_s=BEGIN_S + 9_500)
    (run,) = told(boat(HOB, BREAD_MAKER), samples)
    assert run.appliance == "Bread maker"
    assert run.start_s == pytest.approx(BEGIN_S, abs=120)
