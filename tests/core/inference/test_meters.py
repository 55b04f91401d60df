"""Meters of all sorts, holes in what they say, relays, own meters."""

from copy import replace
from itertools import pairwise
import json

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Circuit, Sensor
from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.activity import Segment
from custom_components.galley_loads.core.metering.load_sample import LoadSample

from .galley import (
    HEATER,
    HOB,
    KETTLE,
    OVEN,
    START_S,
    TOASTER,
    boat,
    drawn,
    names,
    reported,
    runs_of,
    settled,
    with_gap,
    with_relay,
)

MORNING = (
    (600, [(180.0, 1960.0)]),
    (700, [(110.0, 840.0)]),
    (1500, [(300.0, 1200.0), (200.0, 700.0)]),
)


@pytest.mark.parametrize("period_s", [1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("quantum_w", [1.0, 10.0])
def test_meters_of_any_pace_and_resolution_give_the_same(period_s, quantum_w):
    samples = drawn((600, [(180.0, 1960.0)]), period_s=period_s, quantum_w=quantum_w)
    runs = reported(boat(KETTLE, HOB, TOASTER), samples)
    assert names(runs) == ["Kettle"]
    assert runs[0].energy_wh == pytest.approx(98.0, rel=0.06)


def test_a_hole_is_not_bridged_and_holds_nothing():
    samples = with_gap(drawn((600, [(1800.0, 1180.0)]), until_s=5000), 900, 1800)
    segments = settled(Inference(boat(HEATER)), samples)
    hole = [s for s in segments if s.start_s <= START_S + 1350 < s.end_s]
    assert len(hole) == 1
    assert hole[0].start_s == pytest.approx(START_S + 900, abs=5)
    assert hole[0].end_s == pytest.approx(START_S + 1800, abs=5)
    assert not hole[0].activities
    assert hole[0].unnamed_w == 0.0


def test_a_run_lives_through_a_hole_of_a_minute():
    samples = with_gap(drawn((600, [(1800.0, 1180.0)]), until_s=5000), 900, 960)
    runs = reported(boat(HEATER), samples)
    assert names(runs) == ["Water heater"]
    assert runs[0].end_s == pytest.approx(2400, abs=10)


def test_a_circuit_whose_relay_is_open_carries_nothing():
    kettle = replace(KETTLE, circuit="Galley 1")
    aboard = boat(
        kettle, HOB, circuits=(Circuit("Galley 1", 20, 230, relay="switch.galley"),)
    )
    load = drawn((600, [(180.0, 1760.0)]))
    assert names(reported(aboard, load)) == ["Kettle"]
    assert "Kettle" not in names(reported(aboard, with_relay(load, "Galley 1", 0.0)))


def test_opening_the_relay_ends_the_run():
    kettle = replace(KETTLE, circuit="Galley 1")
    aboard = boat(kettle, circuits=(Circuit("Galley 1", 20, 230, relay="switch.g"),))
    # Something of like power goes on elsewhere; it cannot be the kettle any more.
    twice = drawn((600, [(100.0, 1960.0)]), (760, [(180.0, 1960.0)]))
    kettles = [run for run in reported(aboard, twice) if run.appliance == "Kettle"]
    assert kettles[-1].end_s > 900.0
    (run,) = reported(aboard, with_relay(twice, "Galley 1", 700.0))
    assert run.appliance == "Kettle"
    assert run.end_s == pytest.approx(700.0, abs=10)


@pytest.mark.parametrize("ahead_s", [2.0, 5.0, 10.0])
def test_a_relay_may_be_ahead_of_the_load_meter(ahead_s: float):
    kettle = replace(KETTLE, circuit="Galley 1")
    aboard = boat(kettle, circuits=(Circuit("Galley 1", 20, 230, relay="switch.g"),))
    load = drawn((600, [(100.0, 1960.0)]))
    (run,) = reported(aboard, with_relay(load, "Galley 1", 700.0 - ahead_s))
    assert run.appliance == "Kettle"
    assert run.end_s == pytest.approx(700.0, abs=10)


def test_an_appliance_with_its_own_meter_is_read_off():
    metered = replace(OVEN, power_sensor=Sensor("sensor.oven"))
    samples = [
        replace(
            s,
            metered_w=(
                (
                    "Oven",
                    1480.0 if START_S + 600 <= s.at_s < START_S + 1200 else 2.0,
                ),
            ),
        )
        for s in drawn((600, [(600.0, 1480.0)]), (800, [(150.0, 1960.0)]))
    ]
    runs = reported(boat(metered, KETTLE), samples)
    assert sorted(names(runs)) == ["Kettle", "Oven"]
    oven = next(run for run in runs if run.appliance == "Oven")
    assert oven.confidence == 1.0
    assert oven.energy_wh == pytest.approx(246.7, rel=0.02)


def test_loads_that_nobody_named_stay_unassigned():
    vacuum = (900, [(420.0, 640.0)])
    segments = settled(Inference(boat(KETTLE, OVEN)), drawn(vacuum))
    assert not runs_of(segments)
    unnamed = sum(s.unnamed_w * (s.end_s - s.start_s) for s in segments) / 3600.0
    assert unnamed == pytest.approx(74.7, rel=0.05)


def test_a_fridge_is_background():
    fridge = [(900 * n + 100, [(400.0, 85.0)]) for n in range(12)]
    segments = settled(
        Inference(boat(KETTLE, HOB, TOASTER)), drawn(*fridge, until_s=11000)
    )
    assert not runs_of(segments)


def test_standby_is_no_run():
    segments = settled(
        Inference(boat(HOB, KETTLE)), drawn((600, [(2400.0, 22.0)]), until_s=4000)
    )
    assert not runs_of(segments)


def test_a_resistive_load_that_sags_is_still_the_same_load():
    sagging = [(60.0, 1200.0), (240.0, 1165.0), (300.0, 1200.0)]
    runs = reported(
        boat(HEATER, TOASTER), drawn((600, sagging), (660, [(120.0, 840.0)]))
    )
    assert sorted(set(names(runs))) == ["Toaster", "Water heater"]


def test_segments_follow_each_other_without_holes():
    segments = settled(Inference(boat(KETTLE, TOASTER, HOB)), drawn(*MORNING))
    for one, two in pairwise(segments):
        assert one.end_s == two.start_s
    assert segments[0].start_s >= START_S


def test_what_is_drawn_never_exceeds_the_load_for_long():
    samples = drawn(*MORNING)
    segments = settled(Inference(boat(KETTLE, TOASTER, HOB)), samples)
    said = sum(
        (sum(a.power_w for a in s.activities) + s.unnamed_w) * (s.end_s - s.start_s)
        for s in segments
    )
    load = sum((a.load_w or 0.0) * (b.at_s - a.at_s) for a, b in pairwise(samples))
    assert 0.0 < said < load


def _run(samples: list[LoadSample], cuts: set[int]) -> list[Segment]:
    """Save and restore through JSON after some of the samples."""
    aboard = boat(KETTLE, TOASTER, HOB)
    inference = Inference(aboard)
    found: list[Segment] = []
    for number, sample in enumerate(samples):
        inference.observe(sample)
        if number in cuts:
            state = json.loads(json.dumps(inference.snapshot()))
            inference = Inference(aboard)
            inference.restore(state)
            assert json.loads(json.dumps(inference.snapshot())) == state
        found += inference.take_settled()
    inference.finish()
    return found + inference.take_settled()


MORNING_SAMPLES = drawn(*MORNING, until_s=4200)
WHOLE = _run(MORNING_SAMPLES, set())


@settings(max_examples=6)
@given(cuts=st.sets(st.integers(0, len(MORNING_SAMPLES) - 1), min_size=1, max_size=4))
def test_a_restart_at_any_moment_changes_nothing(cuts):
    assert _run(MORNING_SAMPLES, cuts) == WHOLE


@settings(max_examples=20)
@given(
    powers=st.lists(
        st.one_of(st.none(), st.floats(-50.0, 6000.0)), min_size=5, max_size=120
    ),
    steps=st.lists(st.floats(0.1, 400.0), min_size=120, max_size=120),
)
def test_no_load_whatever_breaks_it(powers, steps):
    inference = Inference(boat(KETTLE, TOASTER, HOB, OVEN))
    at_s = START_S
    found: list[Segment] = []
    for power, step in zip(powers, steps, strict=False):
        at_s += step
        inference.observe(LoadSample(at_s, power))
        found += inference.take_settled()
        inference.tentative()
    inference.finish()
    found += inference.take_settled()
    for one, two in pairwise(found):
        assert one.end_s == two.start_s
    for segment in found:
        assert segment.end_s > segment.start_s
        assert segment.unnamed_w >= 0.0
        for activity in segment.activities:
            assert activity.power_w >= 0.0
            assert 0.0 <= activity.confidence <= 1.0


def test_what_is_happening_is_shown_within_half_a_minute():
    inference = Inference(boat(KETTLE, HOB, TOASTER))
    shown_at = None
    for sample in drawn((600, [(180.0, 1960.0)])):
        inference.observe(sample)
        shown = inference.tentative()
        if shown and any(a.appliance == "Kettle" for a in shown[-1].activities):
            shown_at = sample.at_s - START_S
            break
    assert shown_at is not None
    assert 600 <= shown_at <= 630


def test_a_run_is_settled_half_an_hour_after_its_end():
    inference = Inference(boat(KETTLE, HOB))
    for sample in drawn((600, [(180.0, 1960.0)]), until_s=2760):
        inference.observe(sample)
    assert names(runs_of(inference.take_settled())) == ["Kettle"]


def test_memory_is_bounded():
    inference = Inference(boat(HOB, KETTLE))
    sizes = []
    pulses = [(4.0, 6.0), (6.0, 800.0)] * 1500
    for number, sample in enumerate(drawn((60, pulses), until_s=15000)):
        inference.observe(sample)
        inference.take_settled()
        if number % 1500 == 1499:
            sizes.append(len(json.dumps(inference.snapshot())))
    assert max(sizes[-2:]) < 2.0 * max(sizes[1:3])
