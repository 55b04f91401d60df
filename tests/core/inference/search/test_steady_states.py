"""Plateaus of the load, against change points that a reference library found.

The series is numpy's `default_rng(0)`, levels 120, 2120, 120, 1620, 1700 and 200 W with a
deviation of 5 W. Change points by ruptures 1.1.10 (PELT, binary segmentation and dynamic
programming agree): 40, 70, 120, 180, 200.
"""

from itertools import pairwise
import json

import numpy as np
import pytest

from custom_components.galley_loads.core.inference.search.steady_states import (
    Plateau,
    PlateauFinder,
)

LEVELS = np.repeat([120, 2120, 120, 1620, 1700, 200], [40, 30, 50, 60, 20, 40])
SERIES = LEVELS + np.random.default_rng(0).normal(0.0, 5.0, 240)


def found(values: list[float], finder: PlateauFinder | None = None) -> list[Plateau]:
    finder = finder or PlateauFinder()
    finder.noise_w = 5.0
    result: list[Plateau] = []
    for at_s, value in enumerate(values):
        result += finder.feed(float(at_s), float(value))
    return result + list(finder.flush(float(len(values))))


def test_plateaus_begin_where_the_reference_finds_change_points():
    starts = [p.start_s for p in found(list(SERIES)) if not p.continues and not p.short]
    assert starts == pytest.approx([0, 40, 70, 120, 180, 200], abs=1)


def test_the_levels_are_within_five_watts():
    plateaus = found(list(SERIES))
    for start, level in ((40, 2120), (120, 1620), (180, 1700), (200, 200)):
        first = next(p for p in plateaus if abs(p.start_s - start) <= 1)
        assert first.level_w == pytest.approx(level, abs=5)


def test_plateaus_follow_each_other_without_holes():
    plateaus = found(list(SERIES))
    assert plateaus[0].start_s == 0.0
    assert plateaus[-1].end_s == 240.0
    for one, two in pairwise(plateaus):
        assert one.end_s == two.start_s


def test_a_ramp_is_one_step():
    ramp = [100.0] * 30 + [400.0, 800.0, 1200.0, 1600.0] + [2000.0] * 30
    plateaus = found(ramp)
    short = [p for p in plateaus if p.short]
    assert len(short) == 1
    assert (short[0].start_s, short[0].end_s) == (30.0, 34.0)


def test_a_pulse_is_no_ramp():
    pulse = [100.0] * 30 + [600.0, 1500.0] + [100.0] * 30
    levels = [p.level_w for p in found(pulse) if p.short]
    assert 1500.0 in levels


def test_a_steady_load_is_told_of_though_nothing_changes():
    finder = PlateauFinder()
    told = [p for minute in range(10) for p in finder.feed(60.0 * minute, 500.0)]
    assert told
    assert all(p.level_w == 500.0 for p in told)


def test_a_restart_loses_nothing():
    whole = found(list(SERIES))
    finder = PlateauFinder()
    finder.noise_w = 5.0
    result: list[Plateau] = []
    for at_s, value in enumerate(SERIES):
        result += finder.feed(float(at_s), float(value))
        state = json.loads(json.dumps(finder.snapshot()))
        finder = PlateauFinder()
        finder.restore(state)
    assert result + list(finder.flush(240.0)) == whole


def test_the_meters_period_is_not_that_of_the_boats_other_sensors():
    # The load speaks every five seconds; solar and bank speak every second in between,
    # and each of them repeats the load as it was.
    rng = np.random.default_rng(1)
    finder = PlateauFinder()
    load_w = 60.0
    for second in range(3600):
        if second % 5 == 0:
            load_w = round(60.0 + rng.normal(0.0, 2.0))
        finder.feed(float(second), load_w)
    assert finder.period_s == pytest.approx(5.0, rel=0.2)
