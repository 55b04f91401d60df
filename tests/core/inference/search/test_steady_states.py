"""Steady states of the load, against change points that a reference library found.

The series is numpy's `default_rng(0)`, levels 120, 2120, 120, 1620, 1700 and 200 W with a
deviation of 5 W. Change points by ruptures 1.1.10 (PELT, binary segmentation and dynamic
programming agree): 40, 70, 120, 180, 200.
"""

from itertools import pairwise
import json

import numpy as np
import pytest

from custom_components.galley_loads.core.inference.search.steady_states import (
    SteadyState,
    SteadyStateFinder,
)

LEVELS = np.repeat([120, 2120, 120, 1620, 1700, 200], [40, 30, 50, 60, 20, 40])
SERIES = LEVELS + np.random.default_rng(0).normal(0.0, 5.0, 240)


def found(
    values: list[float], finder: SteadyStateFinder | None = None
) -> list[SteadyState]:
    finder = finder or SteadyStateFinder()
    finder.noise_w = 5.0
    result: list[SteadyState] = []
    for at_s, value in enumerate(values):
        result += finder.feed(float(at_s), float(value))
    return result + list(finder.flush(float(len(values))))


def test_steady_states_begin_where_the_reference_finds_change_points():
    starts = [p.start_s for p in found(list(SERIES)) if not p.continues and not p.short]
    assert starts == pytest.approx([0, 40, 70, 120, 180, 200], abs=1)


def test_the_levels_are_within_five_watts():
    steady_states = found(list(SERIES))
    for start, level in ((40, 2120), (120, 1620), (180, 1700), (200, 200)):
        first = next(p for p in steady_states if abs(p.start_s - start) <= 1)
        assert first.level_w == pytest.approx(level, abs=5)


def test_steady_states_follow_each_other_without_holes():
    steady_states = found(list(SERIES))
    assert steady_states[0].start_s == 0.0
    assert steady_states[-1].end_s == 240.0
    for one, two in pairwise(steady_states):
        assert one.end_s == two.start_s


def test_a_ramp_is_one_step():
    ramp = [100.0] * 30 + [400.0, 800.0, 1200.0, 1600.0] + [2000.0] * 30
    steady_states = found(ramp)
    short = [p for p in steady_states if p.short]
    assert len(short) == 1
    assert (short[0].start_s, short[0].end_s) == (30.0, 34.0)


def test_a_pulse_is_no_ramp():
    pulse = [100.0] * 30 + [600.0, 1500.0] + [100.0] * 30
    levels = [p.level_w for p in found(pulse) if p.short]
    assert 1500.0 in levels


def test_a_steady_load_is_reported_of_though_nothing_changes():
    finder = SteadyStateFinder()
    reported = [p for minute in range(10) for p in finder.feed(60.0 * minute, 500.0)]
    assert reported
    assert all(p.level_w == 500.0 for p in reported)


def test_a_restart_loses_nothing():
    whole = found(list(SERIES))
    finder = SteadyStateFinder()
    finder.noise_w = 5.0
    result: list[SteadyState] = []
    for at_s, value in enumerate(SERIES):
        result += finder.feed(float(at_s), float(value))
        state = json.loads(json.dumps(finder.snapshot()))
        finder = SteadyStateFinder()
        finder.restore(state)
    assert result + list(finder.flush(240.0)) == whole


def test_the_meters_period_is_not_that_of_the_boats_other_sensors():
    # The load speaks every five seconds; solar and bank speak every second in between,
    # and each of them repeats the load as it was.
    rng = np.random.default_rng(1)
    finder = SteadyStateFinder()
    load_w = 60.0
    for second in range(3600):
        if second % 5 == 0:
            load_w = round(60.0 + rng.normal(0.0, 2.0))
        finder.feed(float(second), load_w)
    assert finder.period_s == pytest.approx(5.0, rel=0.2)
