"""Segments of activity become runs."""

import pytest

from custom_components.galley_loads.core.inference.model.activity import (
    Activity,
    Phase,
    Run,
    Segment,
)
from custom_components.galley_loads.core.ledger.account import Flow, Share
from custom_components.galley_loads.core.ledger.run_builder import RunBuilder


def _step(
    book: RunBuilder,
    start_s: float,
    end_s: float,
    *parts: tuple[str, float, float, Phase],
):
    activities = tuple(
        Activity(name, run_s, power_w, phase, 0.8)
        for name, run_s, power_w, phase in parts
    )
    shares = {
        (a.appliance, a.run_start_s): Share(a.power_w * (end_s - start_s) / 3600)
        for a in activities
        if a.power_w
    }
    return book.add(
        Segment(start_s, end_s, activities), Flow(start_s, end_s, 0.0, shares)
    )


def test_a_pause_within_a_run_does_not_end_it() -> None:
    book = RunBuilder()
    _step(book, 0, 60, ("Hob", 0, 1800, Phase.HEATING))
    assert _step(book, 60, 70, ("Hob", 0, 0, Phase.HEATING)) == []
    _step(book, 70, 130, ("Hob", 0, 1800, Phase.HEATING))
    (run,) = _step(book, 130, 200)
    assert (run.start_s, run.end_s) == (0, 130)
    assert run.energy_wh == pytest.approx(60)
    assert run.peak_w == 1800


def _hole(book: RunBuilder, start_s: float, end_s: float) -> list[Run]:
    flow = Flow(start_s, end_s, 0.0, unmeasured_s=end_s - start_s)
    return book.add(Segment(start_s, end_s, ()), flow)


def test_a_short_hole_in_the_measurement_does_not_end_a_run_that_goes_on() -> None:
    book = RunBuilder()
    _step(book, 0, 100, ("Kettle", 0, 1500, Phase.HEATING))
    assert _hole(book, 100, 130) == []
    _step(book, 130, 240, ("Kettle", 0, 1500, Phase.HEATING))
    (run,) = _step(book, 240, 300)
    assert (run.start_s, run.end_s) == (0, 240)
    assert run.energy_wh == pytest.approx(1500 * 210 / 3600)
    assert [(p.start_s, p.end_s) for p in run.phases] == [(0, 240)]


def test_a_run_that_ends_within_a_hole_ends_where_it_was_last_seen() -> None:
    book = RunBuilder()
    _step(book, 0, 100, ("Kettle", 0, 1500, Phase.HEATING))
    _hole(book, 100, 130)
    (run,) = _step(book, 130, 240)
    assert run.end_s == 100


def test_a_long_hole_ends_a_run() -> None:
    book = RunBuilder()
    _step(book, 0, 100, ("Kettle", 0, 1500, Phase.HEATING))
    (run,) = _hole(book, 100, 1000)
    assert run.end_s == 100


def test_a_run_with_no_energy_is_no_run() -> None:
    """A kettle's meter says 2000 W, but the boat's load says that nothing flowed."""
    book = RunBuilder()
    kettle = Activity("Kettle", 0, 2000, Phase.HEATING, 1.0)
    nothing = {("Kettle", 0.0): Share()}
    for start_s in (0, 60):
        span = (start_s, start_s + 60)
        assert book.add(Segment(*span, (kettle,)), Flow(*span, 0.0, nothing)) == []
    assert book.add(Segment(120, 180), Flow(120, 180, 0.0)) == []
    assert book.finish() == []


def test_two_kettles_that_touch_are_two_runs() -> None:
    book = RunBuilder()
    _step(book, 0, 180, ("Kettle", 0, 2000, Phase.HEATING))
    (first,) = _step(book, 180, 300, ("Kettle", 180, 2000, Phase.HEATING))
    (second,) = book.finish()
    assert (first.end_s, second.start_s) == (180, 180)
    assert book.finish() == []


def test_the_phases_of_an_oven_follow_each_other() -> None:
    book = RunBuilder()
    _step(book, 0, 600, ("Oven", 0, 1500, Phase.HEATING))
    for start_s in range(600, 1800, 60):
        power_w = 1500 if start_s % 120 == 0 else 30
        _step(book, start_s, start_s + 60, ("Oven", 0, power_w, Phase.HOLDING))
    (run,) = book.finish()
    assert [(p.phase, p.start_s, p.end_s) for p in run.phases] == [
        (Phase.HEATING, 0, 600),
        (Phase.HOLDING, 600, 1800),
    ]


def test_open_runs_survive_a_restart() -> None:
    book = RunBuilder()
    _step(
        book, 0, 60, ("Hob", 0, 1800, Phase.HEATING), ("Oven", 0, 1500, Phase.HEATING)
    )
    again = RunBuilder()
    again.restore(book.snapshot())
    assert again.finish() == book.finish()


def test_a_copy_that_looks_ahead_leaves_the_book_as_it_was() -> None:
    book = RunBuilder()
    _step(book, 0, 60, ("Hob", 0, 1800, Phase.HEATING))
    twin = book.copy()
    _step(twin, 60, 120, ("Hob", 0, 1800, Phase.HEATING))
    (run,) = book.finish()
    assert run.end_s == 60
