"""A clock that is set, ahead or back: a hole in the load, and a boat that goes on."""

from functools import partial
import json

import pytest

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event, MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading

from .boats import KETTLE, small_boat
from .plain_boat import LOAD, START_S, plain_boat

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
YEARS_S = 3653 * DAY_S
JUMPS_S = (HOUR_S, DAY_S, YEARS_S, -HOUR_S, -DAY_S, -YEARS_S)
KETTLE_W = 2000

each_jump = pytest.mark.parametrize(
    "jump_s", JUMPS_S, ids=["+1h", "+24h", "+10y", "-1h", "-24h", "-10y"]
)


def galley() -> Boat:
    return plain_boat(
        appliances=[{"name": "Kettle", "kind": "kettle", "rated_power": KETTLE_W}]
    )


def spoken(
    engine: Engine, from_s: float, seconds: float, extra_w: float = 0.0
) -> float:
    """Let the meter speak every three seconds, and look every six; return the energy that it told, Wh."""
    ticks = int(seconds / 3)
    for n in range(ticks):
        at_s = from_s + 3 * n
        engine.feed(Reading(LOAD, str(90 + n % 2 + extra_w), at_s))
        if n % 2:
            engine.advance(at_s + 2)
            engine.live()
    return ticks * 3 * (90.5 + extra_w) / HOUR_S


@each_jump
def test_the_display_lives_again_within_a_minute(jump_s: float) -> None:
    engine = Engine(galley())
    spoken(engine, START_S, HOUR_S)
    then_s = START_S + HOUR_S + jump_s
    spoken(engine, then_s, 30)
    spoken(engine, then_s + 30, 30, KETTLE_W)
    view = engine.live()
    assert view is not None
    assert view.at_s == pytest.approx(then_s + 57, abs=6)
    assert view.load_w == pytest.approx(KETTLE_W + 90, abs=2)
    assert view.appliance("Kettle").running


@each_jump
def test_a_clock_that_the_platform_sees_jump_counts_nothing_for_the_jump(
    jump_s: float,
) -> None:
    engine = Engine(galley())
    told_wh = spoken(engine, START_S, HOUR_S)
    then_s = START_S + HOUR_S + jump_s
    engine.set_clock(then_s)
    told_wh += spoken(engine, then_s, 2 * HOUR_S)
    engine.finish()
    assert engine.totals.load_wh == pytest.approx(told_wh, abs=0.5)
    # Not as time either: ten years were neither measured nor missed.
    assert engine.totals.measured_s == pytest.approx(3 * HOUR_S, abs=30)
    assert engine.totals.unmeasured_s == pytest.approx(0, abs=30)


@pytest.mark.parametrize("back_s", [HOUR_S, DAY_S, YEARS_S])
def test_readings_alone_show_that_a_clock_was_set_back(back_s: float) -> None:
    engine = Engine(galley())
    told_wh = spoken(engine, START_S, HOUR_S)
    then_s = START_S + HOUR_S - back_s
    for n in range(720):
        engine.feed(Reading(LOAD, str(90 + n % 2), then_s + 5 * n))
    engine.finish()
    assert engine.totals.load_wh == pytest.approx(told_wh + 90.5, abs=0.7)
    assert engine.latest_s == then_s + 5 * 719


@each_jump
def test_a_kettle_on_while_the_clock_is_set_is_counted_once(jump_s: float) -> None:
    engine = Engine(galley())
    events: list[Event] = []
    spoken(engine, START_S, HOUR_S)
    spoken(engine, START_S + HOUR_S, 120, KETTLE_W)
    then_s = START_S + HOUR_S + 120 + jump_s
    events += engine.set_clock(then_s)
    spoken(engine, then_s, 120, KETTLE_W)
    for n in range(720):
        events += engine.feed(Reading(LOAD, str(90 + n % 2), then_s + 120 + 5 * n))
    events += engine.finish()
    runs = [event.run for event in events if isinstance(event, RunSettled)]
    assert sum(run.energy_wh for run in runs) == pytest.approx(
        KETTLE_W * 240 / HOUR_S, rel=0.05
    )
    assert all(run.end_s - run.start_s < 200 for run in runs)
    meals = [event.meal for event in events if isinstance(event, MealSettled)]
    assert sum(meal.energy_wh for meal in meals) == pytest.approx(
        sum(run.energy_wh for run in runs)
    )


@each_jump
def test_it_is_told_that_the_clock_was_set(jump_s: float) -> None:
    engine = Engine(galley())
    spoken(engine, START_S, HOUR_S)
    assert engine.clock_set is None
    then_s = START_S + HOUR_S + jump_s
    engine.set_clock(then_s)
    view = engine.live()
    assert view is not None
    assert view.load_w is None
    assert view.clock_set == engine.clock_set == (START_S + HOUR_S - 3, then_s)
    called = [complaint.called.key for complaint in view.missing]
    assert called == ["sensor.ac_load", "sensor.clock"]
    spoken(engine, then_s, 300)
    assert [one.called.key for one in engine.missing] == ["sensor.clock"]
    spoken(engine, then_s + 300, 600)
    assert engine.missing == ()


@each_jump
def test_a_restart_after_the_clock_was_set_goes_on(jump_s: float) -> None:
    boat = galley()
    engine = Engine(boat)
    told_wh = spoken(engine, START_S, HOUR_S)
    saved = json.loads(json.dumps(engine.snapshot()))
    engine = Engine.from_state(boat, saved)
    then_s = START_S + HOUR_S + jump_s
    engine.advance(then_s)
    told_wh += spoken(engine, then_s + 1, 60)
    view = engine.live()
    assert view is not None
    assert view.at_s >= then_s
    assert view.load_w == pytest.approx(90, abs=2)
    if jump_s < 0:
        engine.finish()
        assert engine.totals.load_wh == pytest.approx(told_wh, abs=0.5)


@each_jump
def test_saving_in_the_middle_of_it_changes_nothing(jump_s: float) -> None:
    boat = galley()
    then_s = START_S + HOUR_S + jump_s
    rows = [Reading(LOAD, str(90 + n % 7), START_S + 5 * n) for n in range(720)]
    rows += [Reading(LOAD, str(90 + n % 7), then_s + 5 * n) for n in range(720)]
    whole, parts = Engine(boat), Engine(boat)
    for reading in rows:
        whole.feed(reading)
    for index, reading in enumerate(rows):
        if 715 < index < 730:
            parts = Engine.from_state(boat, json.loads(json.dumps(parts.snapshot())))
        parts.feed(reading)
    assert parts.snapshot() == whole.snapshot()
    chunks = Engine(boat)
    chunks.feed_all(rows, lambda _: None)
    assert chunks.snapshot() == whole.snapshot()


def test_what_sensors_said_long_ago_is_not_taken_for_a_clock_set_back() -> None:
    boat = small_boat(appliances=(KETTLE,))
    engine = Engine(boat)
    load = "sensor.inverter_output"
    for n in range(720):
        engine.feed(Reading(load, str(90 + n % 2), START_S + 5 * n))
    # Loaded anew, the platform tells what each said last: a relay, days ago.
    for n, name in enumerate(("sensor.solar", "sensor.bank_power", "sensor.bank_soc")):
        engine.feed(Reading(name, "50", START_S - DAY_S + n))
    engine.feed(Reading(load, "93", START_S + 3600))
    assert engine.latest_s == START_S + 3600
    assert engine.clock_set is None


def test_late_rows_between_timely_ones_are_no_clock_set_back() -> None:
    engine = Engine(galley())
    for n in range(720):
        engine.feed(Reading(LOAD, str(90 + n % 2), START_S + 5 * n))
        if n % 3 == 0:
            engine.feed(Reading(LOAD, "95", START_S + 5 * n - 400))
    assert engine.clock_set is None
    assert engine.latest_s == START_S + 5 * 719


def test_what_relays_and_the_gauge_said_goes_on_and_power_does_not() -> None:
    engine = Engine(small_boat(appliances=(KETTLE,)))
    load, solar = "sensor.inverter_output", "sensor.solar"
    engine.feed(Reading("switch.galley_1", "off", START_S))
    engine.feed(Reading("sensor.bank_soc", "61", START_S))
    engine.feed(Reading(solar, "300", START_S))
    engine.feed(Reading(load, "90", START_S + 5))
    engine.set_clock(START_S - DAY_S)
    sample = engine.last_sample
    assert sample is not None
    assert sample.open_circuits == {"Galley 1"}
    assert sample.soc == 61
    assert (sample.load_w, sample.solar_w) == (None, None)


@pytest.mark.parametrize("jump_s", [-HOUR_S, -DAY_S, -YEARS_S, YEARS_S])
def test_what_was_learnt_goes_on_and_no_day_of_the_future_stays(jump_s: float) -> None:
    boat = small_boat(appliances=(KETTLE,))
    engine = Engine(boat)
    feed = partial(_sunny_days, engine)
    feed(START_S, 3)
    learnt = engine.inference.learned["Kettle"]
    assert learnt.runs > 0
    then_s = START_S + 3 * DAY_S + jump_s
    engine.set_clock(then_s)
    assert engine.inference.learned["Kettle"] == learnt
    feed(then_s, 2)
    view = engine.outlook().view()
    days = [day.day for day in view.sky.days]
    assert days == sorted(set(days))
    assert days[-1] - days[0] <= 60
    now_s = then_s + 2 * DAY_S
    assert days[-1] <= now_s // DAY_S
    assert all(hour * HOUR_S < now_s for hour in view.past_hours)
    assert all(use.end_s <= now_s for use in view.uses)
    assert len(view.past_hours) >= 40


def _sunny_days(engine: Engine, from_s: float, days: int) -> None:
    """Let a kettle boil every six hours and the sun give a steady 200 W by day."""
    for n in range(int(days * DAY_S / 60)):
        at_s = from_s + 60.0 * n
        kettle_w = KETTLE_W if n % 360 < 4 else 0
        sun_w = 200 + n % 2 if 480 < n % 1440 < 960 else 0
        load_w = 90 + n % 2 + kettle_w
        for name, value in (
            ("sensor.solar", sun_w),
            ("sensor.bank_power", sun_w - load_w / 0.9),
            ("sensor.inverter_output", load_w),
        ):
            engine.feed(Reading(name, f"{value:.0f}", at_s))
