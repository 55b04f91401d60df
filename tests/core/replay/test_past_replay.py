"""The past worked through: hour by hour, in pieces, and joined to what was counted live."""

from functools import cache
import json

from hypothesis import example, given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import READINGS_AT_ONCE, Engine
from custom_components.galley_loads.core.events import Event
from custom_components.galley_loads.core.ledger.totals import Totals
from custom_components.galley_loads.core.replay.past_replay import HOUR_S, PastReplay
from tests.core.boats import small_boat
from tests.dinner import changes, dinner

START_S = 1_778_600_000 // HOUR_S * HOUR_S + 600
BOAT = parse_boat(
    {
        "name": "Kittiwake",
        "latitude": 38.53,
        "longitude": -28.62,
        "time_zone": "Atlantic/Azores",
        "sensors": {
            "ac_load_power": "sensor.inverter_output",
            "solar_power": "sensor.array_power",
            "battery_current": "sensor.bank_current",
            "battery_voltage": "sensor.bank_voltage",
            "battery_soc": "sensor.bank_soc",
        },
        "bank": {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 35},
        "inverter": {"continuous_power": 2500, "efficiency": 0.92},
        "appliances": [
            {"name": "Kettle", "kind": "kettle", "rated_power": 1500},
            {"name": "Oven", "kind": "oven", "rated_power": 2000},
        ],
    }
)
READINGS = changes(dinner(START_S))
END_S = READINGS[-1].at_s


@cache
def live_totals() -> list[tuple[float, Totals]]:
    """Return what a live engine has counted whenever it settled something."""
    live = Engine(BOAT)
    counted: list[tuple[float, Totals]] = []

    def count(_: list[Event]) -> None:
        assert live.settled_until_s is not None
        counted.append(
            (live.settled_until_s, Totals.from_mapping(live.totals.as_mapping()))
        )

    live.feed_all(READINGS, count)
    return counted


@cache
def whole() -> PastReplay:
    """Return the past worked through at one go."""
    past = PastReplay(BOAT, START_S, START_S)
    past.work_through(READINGS)
    return past


def test_the_hours_add_up_to_the_totals() -> None:
    past = whole()
    hours = list(past.hours.until())
    assert len({hour_s for hour_s, _ in hours}) == 3
    assert all(hour_s % HOUR_S == 0 for hour_s, _ in hours)
    totals = past.engine.totals
    for name in (
        "load_wh",
        "background_wh",
        "unassigned_wh",
        "galley_wh",
        "measured_s",
    ):
        assert sum(getattr(hour, name) for _, hour in hours) == pytest.approx(
            getattr(totals, name)
        )
    for name, energy_wh in totals.appliance_wh.items():
        assert sum(
            hour.appliance_wh.get(name, 0.0) for _, hour in hours
        ) == pytest.approx(energy_wh)


def test_what_an_hour_took_is_in_that_hour() -> None:
    # The kettle runs from 10 to 14 minutes after the start, within the first hour.
    kettle = {
        hour_s: hour.appliance_wh["Kettle"]
        for hour_s, hour in whole().hours.until()
        if "Kettle" in hour.appliance_wh
    }
    assert kettle == {int(START_S // HOUR_S * HOUR_S): pytest.approx(100, rel=0.03)}


@settings(max_examples=6)
@example(6971.0, [])
@given(
    st.floats(0, END_S - START_S),
    st.lists(st.floats(0, END_S - START_S), max_size=2),
)
def test_past_and_counters_together_hold_everything_once(
    cut_s: float, other_cuts_s: list[float]
) -> None:
    counted_until_s = START_S + cut_s
    cuts_s = [START_S + other_s for other_s in other_cuts_s]
    past = PastReplay(BOAT, START_S, counted_until_s, cuts_s)
    past.work_through(READINGS)
    before_wh = sum(t.load_wh for _, t in past.hours.until(counted_until_s))
    assert before_wh == pytest.approx(past.mark_at(counted_until_s).totals.load_wh)


@settings(max_examples=5)
@given(st.lists(st.integers(0, len(READINGS)), max_size=4), st.booleans())
def test_pieces_and_restarts_make_no_difference(cuts: list[int], restart: bool) -> None:
    past = PastReplay(BOAT, START_S, START_S)
    at = 0
    for cut in [*sorted(cuts), len(READINGS)]:
        past.work_through(READINGS[at:cut])
        at = cut
        if restart:
            past = PastReplay.from_state(BOAT, json.loads(json.dumps(past.snapshot())))
    expected = whole()
    assert past.engine.totals == expected.engine.totals
    assert past.meals == expected.meals
    assert list(past.hours.until()) == list(expected.hours.until())
    assert past.read_until_s == expected.read_until_s == END_S


@settings(max_examples=6)
@given(st.floats(-100, END_S - START_S + 100), st.floats(-100, END_S - START_S + 100))
def test_nothing_is_counted_twice_or_lost_where_past_and_present_meet(
    set_up_s: float, counted_for_s: float
) -> None:
    """Live operation counts from one moment to another, the past's engine goes on."""
    counted_until_s = START_S + max(set_up_s, counted_for_s)
    past = PastReplay(BOAT, START_S, START_S + set_up_s)
    past.work_through(READINGS)
    mark = past.mark_at(counted_until_s)
    counted = Totals()
    for settled_s, totals in live_totals():
        if settled_s <= counted_until_s:
            counted = totals
    assert mark.totals == counted
    assert (mark.settled_s or START_S) <= max(counted_until_s, START_S)


def test_before_anything_is_settled_everything_is_to_be_counted() -> None:
    past = PastReplay(BOAT, START_S, START_S)
    past.work_through(READINGS[:5], START_S + 60)
    assert past.mark_at(START_S).totals == Totals()
    assert past.read_until_s == START_S + 60


def test_work_that_is_stopped_can_be_taken_up() -> None:
    past = PastReplay(BOAT, START_S, START_S)
    asked = iter([False, True])
    past.work_through(READINGS, END_S, lambda: next(asked))
    assert past.read_until_s == READINGS[READINGS_AT_ONCE - 1].at_s
    # The reading at the very end is given once more; that does no harm.
    rest = [r for r in READINGS if r.at_s >= past.read_until_s]
    past.work_through(rest, END_S)
    assert past.engine.totals == whole().engine.totals


def test_a_state_of_another_version_is_refused() -> None:
    state = whole().snapshot()
    state["engine"]["version"] = -1
    with pytest.raises(ValueError, match="version"):
        PastReplay.from_state(small_boat(), state)
