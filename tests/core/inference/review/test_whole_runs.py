"""Runs are settled whole, so that who ran is one answer for all of a run."""

from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.hypothesis import (
    UNNAMED,
    ActiveLoad,
    PastStep,
)
from custom_components.galley_loads.core.inference.search.hypothesis_past import (
    whole_runs_until,
)
from tests.core.inference.galley import BATH, boat, drawn

LONGEST_S = 3.0 * 3600.0


def past(*runs: tuple[int, float, float], until_s: float = 20_000.0) -> list[PastStep]:
    """Return a past in moments of a minute in which appliances ran from to."""
    past_steps: list[PastStep] = []
    at = 0.0
    while at < until_s:
        loads = tuple(
            ActiveLoad(index, 0, 900.0, start, start, (), (), (1.0, 1.0, 1.0))
            for index, start, end in runs
            if start <= at < end
        )
        past_steps.append(PastStep(None, at, at + 60.0, 960.0, 60.0, loads, False))
        at += 60.0
    return past_steps


def test_a_run_that_goes_on_waits_for_its_end():
    assert whole_runs_until(past((0, 6000, 20_000)), 9000.0, LONGEST_S) == 6000.0


def test_where_nothing_runs_nothing_waits():
    assert whole_runs_until(past((0, 600, 1200)), 9000.0, LONGEST_S) == 9000.0


def test_a_run_that_began_within_a_waiting_one_waits_with_it():
    runs = past((0, 6000, 8700), (1, 8400, 20_000))
    assert whole_runs_until(runs, 8500.0, LONGEST_S) == 6000.0


def test_a_kettle_that_ended_long_ago_is_reported_though_the_oven_goes_on():
    runs = past((0, 6000, 20_000), (1, 7200, 7380))
    assert whole_runs_until(runs, 9000.0, LONGEST_S) == 7380.0


def test_a_bread_maker_of_many_hours_is_reported_piece_by_piece():
    assert whole_runs_until(past((0, 600, 20_000)), 15_000.0, LONGEST_S) == 15_000.0


def test_loads_that_nobody_named_keep_nothing_waiting():
    assert whole_runs_until(past((UNNAMED, 6000, 20_000)), 9000.0, LONGEST_S) == 9000.0


def longest_wait_s(pulse_s: float, pause_s: float) -> float:
    """Return how far behind what is final is, at the most, with a bath that pulses so."""
    pieces = [(600.0, 1000.0), *[(pulse_s, 1000.0), (pause_s, 0.0)] * 4000]
    inference = Inference(boat(BATH))
    longest = 0.0
    for sample in drawn((60.0, pieces), until_s=4500.0, period_s=1.0):
        inference.observe(sample)
        inference.take_settled()
        longest = max(longest, sample.at_s - (inference.settled_until_s or 0.0))
    return longest


def test_a_bath_that_pulses_every_minute_waits_for_its_end():
    assert longest_wait_s(20.0, 40.0) > 4000.0


def test_a_bath_that_pulses_every_few_seconds_is_reported_in_pieces():
    # An hour of it would be thousands of moments to go through in one step.
    assert longest_wait_s(1.5, 2.5) < 3000.0
