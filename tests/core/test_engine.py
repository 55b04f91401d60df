"""The one pipeline: the same readings give the same meals by whatever road they come."""

from functools import cache
from itertools import cycle
import json
import random

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import (
    Event,
    MealSettled,
    RunSettled,
    SpanSettled,
)
from custom_components.galley_loads.core.metering.reading import Reading
from demo.simulator import SimOptions, random_boat, simulate
from tests.said import all_said

from .boats import small_boat
from .engine_rig import AT, readings_of, told

type History = tuple[Boat, tuple[Reading, ...]]


@cache
def _history(seed: int, *, dc_only: bool = False) -> History:
    """Return half a day aboard a simulated boat (invented; only its sums matter here)."""
    options = SimOptions(
        days=0.5,
        start="2026-05-11T10:00:00+00:00",
        appliances=5,
        period_s=5,
        dc_only=dc_only,
        unnamed_per_day=4,
        dropouts_per_day=6,
        late_share=0.01,
        doubled_share=0.01,
    )
    boat = random_boat(seed, options)
    rows = simulate(boat, seed, options).rows()
    return parse_boat(boat.description), tuple(Reading(*row) for row in rows)


@cache
def _whole(seed: int, *, dc_only: bool = False) -> tuple[Engine, list[Event]]:
    boat, readings = _history(seed, dc_only=dc_only)
    engine = Engine(boat)
    return engine, told(run_through(engine, readings))


@pytest.mark.parametrize("dc_only", [False, True], ids=["metered", "dc_only"])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_watt_hour_has_its_place(seed: int, dc_only: bool) -> None:
    engine, told = _whole(seed, dc_only=dc_only)
    totals = engine.totals
    parts_wh = (
        sum(totals.appliance_wh.values())
        + sum(totals.standby_wh.values())
        + totals.background_wh
        + totals.unassigned_wh
    )
    assert parts_wh == pytest.approx(totals.load_wh, rel=1e-9)
    assert sum(e.run.energy_wh for e in told if isinstance(e, RunSettled)) == (
        pytest.approx(sum(totals.appliance_wh.values()), rel=1e-9)
    )
    assert totals.load_wh > 500


@settings(max_examples=6, deadline=None)
@given(
    cuts=st.lists(st.floats(0, 1), max_size=3),
    dc_only=st.booleans(),
    looks=st.integers(0, 3),
)
def test_neither_chunks_nor_restarts_nor_looking_change_what_is_told(
    cuts: list[float], dc_only: bool, looks: int
) -> None:
    boat, readings = _history(1, dc_only=dc_only)
    whole, expected = _whole(1, dc_only=dc_only)
    engine, events, start = Engine(boat), list[Event](), 0
    pick = random.Random(looks)
    for end in [*sorted(int(cut * len(readings)) for cut in cuts), len(readings)]:
        for reading in readings[start:end]:
            if looks and pick.random() < 0.02:
                events.extend(engine.advance(reading.at_s - pick.random()))
            events.extend(engine.feed(reading))
            if looks and pick.random() < 0.002:
                engine.live()
        engine = Engine.from_state(boat, json.loads(json.dumps(engine.snapshot())))
        start = end
    events.extend(engine.finish())
    assert told(events) == expected
    assert engine.totals == whole.totals


@settings(max_examples=6, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 700), min_size=1, max_size=8),
    dc_only=st.booleans(),
)
def test_it_matters_not_how_many_readings_come_at_a_time(
    sizes: list[int], dc_only: bool
) -> None:
    boat, readings = _history(1, dc_only=dc_only)
    whole, expected = _whole(1, dc_only=dc_only)
    engine, events, start = Engine(boat), list[Event](), 0
    for size in cycle(sizes):
        if start >= len(readings):
            break
        # A plain row is as good as a reading.
        rows = [tuple(reading) for reading in readings[start : start + size]]
        engine.feed_all(rows, events.extend)
        start += size
    events.extend(engine.finish())
    assert told(events) == expected
    assert engine.snapshot() == whole.snapshot()


def test_whoever_is_told_sees_the_counters_as_they_stand_then() -> None:
    boat, readings = _history(2)
    engine, told_wh = Engine(boat), 0.0

    def listen(events: list[Event]) -> None:
        nonlocal told_wh
        spans = [e for e in events if isinstance(e, SpanSettled)]
        told_wh += sum(span.flow.load_wh for span in spans)
        assert engine.totals.load_wh == pytest.approx(told_wh)
        assert engine.settled_until_s == spans[-1].flow.end_s

    engine.feed_all(readings, listen)
    assert told_wh > 500


def test_counters_never_fall() -> None:
    boat, readings = _history(2)
    engine = Engine(boat)
    before = engine.totals.as_mapping()
    for index, reading in enumerate(readings):
        engine.feed(reading)
        if index % 500 == 0:
            now = engine.totals.as_mapping()
            assert now["load_wh"] >= before["load_wh"]
            for name, energy_wh in before["appliance_wh"].items():
                assert now["appliance_wh"][name] >= energy_wh
            before = now
    assert before["load_wh"] > 500
    assert sum(before["appliance_wh"].values()) > 100


def test_settling_waits_for_a_run_that_goes_on_but_not_for_long() -> None:
    boat, readings = _history(1)
    engine = Engine(boat)
    behind_s: list[float] = []
    for reading in readings:
        engine.feed(reading)
        settled_s = engine.settled_until_s
        if settled_s is not None and engine.latest_s is not None:
            behind_s.append(engine.latest_s - settled_s)
    assert max(behind_s) < 96 * 60
    behind_s.sort()
    assert behind_s[len(behind_s) // 2] < 31 * 60


def test_a_kettle_is_seen_while_it_heats_and_becomes_a_hot_drink() -> None:
    boat = small_boat()
    rows = [
        ("sensor.inverter_output", 60.0 + s % 3, float(s)) for s in range(0, 600, 2)
    ]
    rows += [
        ("sensor.inverter_output", 2060.0 + s % 3, float(s)) for s in range(600, 780, 2)
    ]
    rows += [
        ("sensor.inverter_output", 60.0 + s % 3, float(s)) for s in range(780, 900, 2)
    ]
    engine = Engine(boat)
    for reading in readings_of(*rows):
        engine.feed(reading)
        if reading.at_s == AT + 700:
            view = engine.live()
            assert view is not None
            assert view.cooking
            assert view.appliance("Kettle").power_w == pytest.approx(2000, rel=0.03)
            assert view.current_meal is not None
            assert view.current_meal.energy_wh == pytest.approx(
                2000 * 100 / 3600, rel=0.05
            )
    view = engine.live()
    assert view is not None
    assert not view.cooking
    events = engine.advance(AT + 7200)
    (meal,) = [e.meal for e in events if isinstance(e, MealSettled)]
    assert meal.label == "hot drink"
    assert meal.energy_wh == pytest.approx(100, rel=0.03)
    view = engine.live()
    assert view is not None
    assert view.last_meal == meal
    assert view.current_meal is None


def test_time_passes_on_a_steady_boat_that_sends_no_changes() -> None:
    """A steady source sends no changes; its energy goes on while the boat is heard."""
    engine = Engine(small_boat())
    for reading in readings_of(
        ("sensor.inverter_output", 100, 0),
        *(
            ("sensor.bank_soc", 80 - minute / 100, minute * 60)
            for minute in range(0, 58, 4)
        ),
    ):
        engine.feed(reading)
    engine.advance(AT + 3500)
    view = engine.live()
    assert view is not None
    assert view.load_w == 100
    before_wh = engine.totals.load_wh
    assert before_wh > 0
    engine.finish()
    assert engine.totals.load_wh == pytest.approx(100 * 3500 / 3600, rel=0.03)


def test_hours_without_a_source_have_no_energy() -> None:
    """After hours without a source no energy appears for them."""
    engine = Engine(small_boat())
    for reading in (
        *readings_of(
            ("sensor.inverter_output", 1500, 0), ("sensor.inverter_output", 1510, 5)
        ),
        Reading("sensor.inverter_output", "unavailable", AT + 10),
        *readings_of(("sensor.inverter_output", 90, 4 * 3600)),
    ):
        engine.feed(reading)
    engine.finish()
    assert engine.totals.load_wh == pytest.approx(1500 * 10 / 3600, rel=0.02)
    assert engine.totals.unmeasured_s == pytest.approx(4 * 3600 - 10)


def test_one_missing_sensor_takes_only_its_own_part_away() -> None:
    engine = Engine(small_boat())
    for reading in (
        *readings_of(
            ("sensor.inverter_output", 100, 0),
            ("sensor.solar", 200, 0),
            ("sensor.bank_soc", 80, 0),
        ),
        Reading("sensor.solar", "unavailable", AT + 10),
        *readings_of(("sensor.inverter_output", 105, 15)),
    ):
        engine.feed(reading)
    view = engine.live()
    assert view is not None
    assert view.solar_w is None
    assert view.load_w == 105
    assert view.soc == 80
    assert any("sensor.solar" in missing for missing in all_said(view.complaints))


def test_nothing_is_told_before_the_first_reading() -> None:
    engine = Engine(small_boat())
    assert engine.live() is None
    assert engine.advance(AT) == []
    assert engine.finish() == []
    assert engine.settled_until_s is None
    assert engine.latest_s is None


def test_a_state_of_another_version_is_refused() -> None:
    state = {**Engine(small_boat()).snapshot(), "version": 99}
    with pytest.raises(ValueError, match="version 99"):
        Engine.from_state(small_boat(), state)


def test_an_appliance_may_leave_or_join_between_two_starts() -> None:
    boat = small_boat()
    engine = Engine(boat)
    rows = [
        ("sensor.inverter_output", 60.0 + s % 3, float(s)) for s in range(0, 600, 2)
    ]
    rows += [("sensor.inverter_output", 2060.0, float(s)) for s in range(600, 780, 2)]
    for reading in readings_of(*rows):
        engine.feed(reading)
    state = json.dumps(engine.snapshot())
    for appliances in (
        boat.appliances[:1],
        boat.appliances[1:],
        (*boat.appliances[2:], boat.appliances[0]),
    ):
        changed = Engine.from_state(
            small_boat(appliances=appliances), json.loads(state)
        )
        for reading in readings_of(("sensor.inverter_output", 60.0, 800.0)):
            changed.feed(reading)
        changed.advance(AT + 7200)
        names = {appliance.name for appliance in appliances}
        assert {now.name for now in changed.live().appliances} == names
        # The kettle that boils has its watt-hours wherever it is aboard, and where it
        # is not, they are nobody's; a steady source is believed for an hour.
        totals, kettle_wh = changed.totals, 2000 * 200 / 3600
        whose = totals.appliance_wh if "Kettle" in names else {}
        assert set(totals.appliance_wh) == set(whose)
        assert whose.get("Kettle", totals.unassigned_wh) == (
            pytest.approx(kettle_wh, rel=0.02)
        )
        assert totals.load_wh == pytest.approx(
            kettle_wh + (61 * 800 + 60 * 3600) / 3600, rel=0.01
        )
