"""A saved engine goes on, though the boat was changed meanwhile."""

import json
from typing import Any

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat_schema import (
    boat_to_mapping,
    parse_boat,
)
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.metering.wrong_sign import Turned
from custom_components.galley_loads.state.engine_state import TakenUp, renamed, take_up
from custom_components.galley_loads.state.engine_store import (
    StoredEngine,
    StoredJournal,
)
from tests.said import all_said

LOAD = "sensor.load"
NAMES = {"1": "Kettle", "2": "Oven"}
START_S = 1_778_520_600.0


def boat_mapping(**changes: Any) -> dict[str, Any]:
    return {
        "name": "Kittiwake",
        "latitude": 38.53,
        "longitude": -28.62,
        "time_zone": "Atlantic/Azores",
        "sensors": {"ac_load_power": LOAD},
        "bank": {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 35},
        "inverter": {"continuous_power": 2500, "efficiency": 0.92},
        "appliances": [
            {"name": "Kettle", "kind": "kettle", "rated_power": 1500},
            {"name": "Oven", "kind": "oven", "rated_power": 2000},
        ],
        **changes,
    }


def readings(entity_id: str = LOAD) -> list[Reading]:
    """A kettle that boils for four minutes, and an hour and a half of nothing after it."""
    found = []
    for at_s in range(0, 6000, 10):
        load_w = 1620 if 600 <= at_s < 840 else 120
        found.append(Reading(entity_id, str(load_w + at_s // 10 % 2), START_S + at_s))
    return found


def cooked_until(at_s: float, mapping: dict[str, Any]) -> tuple[StoredEngine, Engine]:
    """Return the stored state in the middle of cooking."""
    engine = Engine(parse_boat(mapping))
    for reading in readings():
        if reading.at_s < START_S + at_s:
            engine.feed(reading)
    stored = StoredEngine(
        boat=mapping, names=NAMES, engine=engine.snapshot(), counters={"1": 100.0}
    )
    return stored, engine


def go_on(taken: TakenUp, from_s: float, entity_id: str = LOAD) -> list[Any]:
    rest = [r for r in readings(entity_id) if r.at_s >= START_S + from_s]
    return [*taken.events, *run_through(taken.engine, rest)]


def runs_of(events: list[Any]) -> list[tuple[str, float, float, float]]:
    return [
        (e.run.appliance, e.run.start_s, e.run.end_s, round(e.run.energy_wh, 6))
        for e in events
        if isinstance(e, RunSettled)
    ]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"bank": {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 50}},
        {"dishes": [{"name": "Bread", "energy": 600}]},
        {"name": "Fulmar"},
    ],
)
def test_a_boat_changed_in_its_numbers_goes_on_cooking(changes: dict[str, Any]) -> None:
    stored, _ = cooked_until(720, boat_mapping())
    taken = take_up(parse_boat(boat_mapping(**changes)), NAMES, stored)
    whole = run_through(Engine(parse_boat(boat_mapping())), readings())
    assert runs_of(go_on(taken, 720)) == runs_of(whole)
    assert runs_of(whole)


def test_a_renamed_appliance_goes_on_cooking_under_its_new_name() -> None:
    stored, _ = cooked_until(720, boat_mapping())
    changed = boat_mapping()
    changed["appliances"][0]["name"] = "Old kettle"
    taken = take_up(parse_boat(changed), {"1": "Old kettle", "2": "Oven"}, stored)
    (run,) = runs_of(go_on(taken, 720))
    assert run[0] == "Old kettle"
    taken.counters.absorb(taken.engine.totals, {"1": "Old kettle", "2": "Oven"})
    # 1500 W for four minutes, on top of what was counted before.
    assert taken.counters.as_mapping()["1"] == pytest.approx(200, rel=0.01)


def test_two_appliances_that_swap_names_swap_nothing_else() -> None:
    stored, _ = cooked_until(720, boat_mapping())
    changed = boat_mapping(
        appliances=[
            {"name": "Oven", "kind": "kettle", "rated_power": 1500},
            {"name": "Kettle", "kind": "oven", "rated_power": 2000},
        ]
    )
    taken = take_up(parse_boat(changed), {"1": "Oven", "2": "Kettle"}, stored)
    (run,) = runs_of(go_on(taken, 720))
    assert run[0] == "Oven"


def test_an_appliance_more_settles_what_was_cooked_and_keeps_what_was_learnt() -> None:
    stored, old = cooked_until(1500, boat_mapping())
    changed = boat_mapping()
    changed["appliances"].append(
        {"name": "Hob", "kind": "induction_hob", "rated_power": 1800}
    )
    taken = take_up(parse_boat(changed), {**NAMES, "3": "Hob"}, stored)
    assert [run[0] for run in runs_of(taken.events)] == ["Kettle"]
    assert any(isinstance(event, MealSettled) for event in taken.events)
    assert taken.counters.as_mapping()["1"] == pytest.approx(200, rel=0.01)
    old.finish()
    assert (
        taken.engine.snapshot()["inference"]["base_load"]
        == old.snapshot()["inference"]["base_load"]
    )
    before = taken.counters.as_mapping()
    go_on(taken, 1500)
    taken.counters.absorb(taken.engine.totals, {**NAMES, "3": "Hob"})
    after = taken.counters.as_mapping()
    assert all(after[key] >= value for key, value in before.items())


def test_what_the_outlook_learnt_stays_when_an_appliance_comes() -> None:
    stored, old = cooked_until(4500, boat_mapping())
    changed = boat_mapping()
    changed["appliances"][0]["name"] = "Old kettle"
    changed["appliances"].append(
        {"name": "Hob", "kind": "induction_hob", "rated_power": 1800}
    )
    names = {"1": "Old kettle", "2": "Oven", "3": "Hob"}
    taken = take_up(parse_boat(changed), names, stored)
    before, after = old.snapshot()["outlook"], taken.engine.snapshot()["outlook"]
    assert before["cookbook"]["runs"]["Kettle"]
    assert after["cookbook"]["runs"] == {
        "Old kettle": before["cookbook"]["runs"]["Kettle"]
    }
    assert after["demand"]["profile"] == before["demand"]["profile"]
    assert after["uses"] == before["uses"]


@pytest.mark.parametrize(
    ("changes", "stale"),
    [
        ({}, set()),
        ({"latitude": 14.9, "longitude": -23.5}, {"position"}),
        ({"solar": {"array_power": 900}}, {"yields"}),
        (
            {"bank": {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 35}},
            {"charge", "bank_meter"},
        ),
    ],
)
def test_another_place_array_or_bank_is_learnt_anew_and_nothing_else(
    changes: dict[str, Any], stale: set[str]
) -> None:
    mapping = boat_mapping(solar={"array_power": 540})
    stored, _ = cooked_until(4500, mapping)
    stored["engine"]["outlook"]["sun"]["yields"]["table"][0] = 0.77
    stored["engine"]["outlook"]["charge"]["variance"] = 0.77
    stored["engine"]["outlook"]["bank_meter"]["start_soc"] = 77.0
    boat = parse_boat({**mapping, **changes})
    outlook = plain(take_up(boat, NAMES, stored).engine.snapshot()["outlook"])
    kept = plain(stored["engine"]["outlook"])
    for state in (outlook, kept):
        state |= state.pop("sun")
    assert {key for key in outlook if outlook[key] != kept[key]} == stale
    assert outlook["position"] == [boat.latitude, boat.longitude]


FLOWS = {
    "ac_load_power": LOAD,
    "solar_power": "sensor.sun",
    "battery_power": "sensor.bank",
}
OF_FLOWS = {"quarters", "charge", "bank_meter", "conversion", "demand"}


@pytest.mark.parametrize(
    ("sensors", "stale"),
    [
        ({"battery_temperature": "sensor.cold"}, set()),
        ({"battery_power_positive": "discharging"}, OF_FLOWS),
        (
            {"solar_power": {"entity": "sensor.sun", "reversed": True}},
            OF_FLOWS | {"yields"},
        ),
    ],
)
def test_what_was_learnt_of_a_flow_that_was_turned_is_learnt_anew(
    sensors: dict[str, Any], stale: set[str]
) -> None:
    mapping = boat_mapping(sensors=FLOWS, solar={"array_power": 540})
    stored, _ = cooked_until(4500, mapping)
    learned = stored["engine"]["outlook"]
    learned["sun"]["yields"]["table"][0] = 0.77
    learned["charge"]["variance"] = 0.77
    learned["bank_meter"]["start_soc"] = 77.0
    learned["conversion"]["sums"] = [7.0] * 5
    boat = parse_boat({**mapping, "sensors": {**FLOWS, **sensors}})
    outlook = plain(take_up(boat, NAMES, stored).engine.snapshot()["outlook"])
    fresh = plain(Engine(boat).snapshot()["outlook"])
    for state in (outlook, fresh):
        state |= state.pop("sun")
    for part in OF_FLOWS | {"yields"}:
        assert (outlook[part] == fresh[part]) is (part in stale), part


def test_the_evidence_for_a_sign_stays_when_an_appliance_comes() -> None:
    mapping = boat_mapping(sensors=FLOWS)
    stored, _ = cooked_until(4500, mapping)
    stored["engine"]["bank_sign"]["steps"]["with_load"] = [0.0, 7.0]
    more = {"name": "Hob", "kind": "induction_hob", "rated_power": 1800}
    boat = parse_boat({**mapping, "appliances": [*mapping["appliances"], more]})
    engine = take_up(boat, {**NAMES, "3": "Hob"}, stored).engine
    (evidence,) = all_said(engine.wrong_signs()[0].evidence)
    assert "(7 of 7 times)" in evidence
    # But not when the sensors are other ones.
    turned = {**FLOWS, "battery_power_positive": "discharging"}
    boat = parse_boat({**mapping, "sensors": turned})
    assert not take_up(boat, NAMES, stored).engine.wrong_signs()


def test_of_two_wrong_signs_the_second_is_still_known_when_the_first_is_mended() -> (
    None
):
    sensors = {**FLOWS, "battery_voltage": "sensor.voltage"}
    mapping = boat_mapping(sensors=sensors)
    stored, _ = cooked_until(4500, mapping)
    stored["engine"]["bank_sign"]["steps"]["with_voltage"] = [0.0, 7.0]
    stored["engine"]["bank_sign"]["steps"]["with_sources"] = [0.0, 7.0]
    sources = stored["engine"]["assembler"]["sources"]
    sources["sensor.sun"] = [*sources["sensor.sun"][:-1], [[0.0, 7.0], -300.0, 0.0]]
    both = {Turned.BANK, Turned.METER}

    def left(**changed: Any) -> set[Turned]:
        boat = parse_boat({**mapping, "sensors": {**sensors, **changed}})
        return {one.turned for one in take_up(boat, NAMES, stored).engine.wrong_signs()}

    assert left() == both
    assert left(battery_power_positive="discharging") == {Turned.METER}
    sun = {"entity": "sensor.sun", "reversed": True}
    assert left(solar_power=sun) == {Turned.BANK}
    # Sensors that have nothing to do with it change nothing.
    assert left(battery_temperature="sensor.cold") == both
    # Other sensors have to be seen first.
    assert left(solar_power="sensor.other", battery_power="sensor.shunt") == set()


def plain(state: Any) -> Any:
    """Return a state as it comes back from a file."""
    return json.loads(json.dumps(state))


def test_an_appliance_less_loses_its_counter_and_nothing_else() -> None:
    stored, _ = cooked_until(1500, boat_mapping())
    stored["counters"]["2"] = 50.0
    changed = boat_mapping()
    del changed["appliances"][1]
    taken = take_up(parse_boat(changed), {"1": "Kettle"}, stored)
    counters = taken.counters.as_mapping()
    assert "2" not in counters
    assert counters["1"] == pytest.approx(200, rel=0.01)


def test_an_appliance_named_like_a_word_of_the_state_can_be_renamed() -> None:
    mapping = boat_mapping()
    mapping["appliances"][0]["name"] = "heating"
    stored, _ = cooked_until(1500, mapping)
    stored["names"] = {"1": "heating", "2": "Oven"}
    taken = take_up(parse_boat(boat_mapping()), NAMES, stored)
    assert [run[0] for run in runs_of(taken.events)] == ["heating"]
    assert taken.counters.as_mapping()["1"] == pytest.approx(200, rel=0.01)


def test_the_journal_brings_the_engine_to_where_it_was() -> None:
    stored, _ = cooked_until(700, boat_mapping())
    between = [r for r in readings() if START_S + 700 <= r.at_s < START_S + 1000]
    journal = StoredJournal(
        readings=[[r.entity_id, r.state, r.at_s] for r in between],
        counters={"1": 123.0},
    )
    taken = take_up(parse_boat(boat_mapping()), NAMES, stored, journal)
    _, engine = cooked_until(1000, boat_mapping())
    assert taken.engine.snapshot() == engine.snapshot()
    # What was shown is never undercut.
    assert taken.counters.as_mapping()["1"] == 123.0


def test_a_state_of_an_unknown_version_costs_the_meal_and_no_counter() -> None:
    stored, _ = cooked_until(720, boat_mapping())
    stored["engine"] = {"version": 999}
    taken = take_up(parse_boat(boat_mapping()), NAMES, stored)
    assert taken.engine.latest_s is None
    assert taken.counters.as_mapping()["1"] == 100.0


def test_an_old_file_keeps_its_counters() -> None:
    stored = StoredEngine(boat={}, names={}, engine={}, counters={"2": 7.0})
    taken = take_up(parse_boat(boat_mapping()), NAMES, stored)
    assert taken.counters.as_mapping()["2"] == 7.0


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=3),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=20,
)


@given(PLAIN)
def test_renaming_there_and_back_changes_nothing(data: Any) -> None:
    assert renamed(data, {}) == data
    there = renamed(data, {"a": "not in there", "b": "neither that"})
    assert renamed(there, {"not in there": "a", "neither that": "b"}) == data


def test_the_stored_boat_reads_back() -> None:
    boat = parse_boat(boat_mapping())
    assert parse_boat(boat_to_mapping(boat)) == boat
