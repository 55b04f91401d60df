"""The schema says the same about the same mistake, wherever the description comes from."""

from copy import deepcopy
from datetime import time
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings, strategies as st
import pytest
import voluptuous as vol

from custom_components.galley_loads.core.boat.boat import (
    Boat,
    Chemistry,
    CutRule,
    Sensor,
)
from custom_components.galley_loads.core.boat.boat_fields import clock_time
from custom_components.galley_loads.core.boat.boat_file import read_boat
from custom_components.galley_loads.core.boat.boat_problems import (
    BoatError,
    Fault,
    path_text,
    problems_in,
    shown,
)
from custom_components.galley_loads.core.boat.boat_schema import (
    SECTIONS,
    boat_problems,
    boat_to_mapping,
    parse_boat,
)
from custom_components.galley_loads.core.phrase import phrase
from tests.said import refused, said

from .boat_strategies import boats

DATA = Path(__file__).parents[2] / "data"
SMALL: dict[str, Any] = {
    "name": "Petrel",
    "latitude": 38.53,
    "longitude": -28.62,
    "time_zone": "Atlantic/Azores",
    "sensors": {"ac_load_power": "sensor.inverter"},
    "bank": {"capacity_ah": 420, "nominal_voltage": 12.8, "reserve_soc": 30},
}


def changed(**parts: Any) -> dict[str, Any]:
    """Return the small description with other parts."""
    return {**deepcopy(SMALL), **parts}


def first_problem(description: Any) -> str:
    with pytest.raises(BoatError) as caught:
        parse_boat(description)
    return said(caught.value)


def test_every_field_of_a_boat_file_arrives_where_it_belongs() -> None:
    boat = read_boat(DATA / "boats" / "petrel.yaml")

    assert boat.sensors.ac_load_power == Sensor("sensor.inverter_output", 1000.0)
    assert [s.entity_id for s in boat.sensors.solar_power] == [
        "sensor.array_port",
        "sensor.array_starboard",
    ]
    assert boat.sensors.other_charging_power == (Sensor("sensor.alternator"),)
    assert boat.sensors.battery_sign == -1
    assert boat.sensors.battery_current == Sensor("sensor.bank_current", 0.001)
    assert boat.sensors.position == "device_tracker.petrel"
    assert (boat.bank.capacity_ah, boat.bank.reserve_soc) == (420.0, 30.0)
    assert boat.bank.chemistry is Chemistry.AGM and boat.bank.chemistry.is_lead
    assert boat.conversion == 0.91
    assert boat.solar is not None
    assert boat.solar.forecast == ("sensor.tomorrow_port", "forecast_service")
    assert boat.appliance("Hob").standby_power_w == 8.0
    assert boat.appliance("Kettle").power_sensor == Sensor("sensor.kettle_plug")
    circuit = boat.circuit("Galley 1")
    assert circuit is not None
    assert (circuit.cut, circuit.idle_minutes) == (CutRule.ASK, 15.0)
    other = boat.circuit("Galley 2")
    assert other is not None and other.other_loads and other.cut is CutRule.NEVER
    assert boat.dishes[0].minutes == {"Hob": 25.0, "Kettle": 3.5}
    assert boat.dishes[0].ready_by == time(19, 30)
    assert boat.meal_gap_minutes == 25.0


@given(boats())
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_a_boat_that_is_written_reads_back_as_the_same_boat(boat: Boat) -> None:
    assert parse_boat(boat_to_mapping(boat)) == boat


def test_a_sensor_without_a_unit_is_in_the_unit_of_its_field() -> None:
    boat = parse_boat(changed(sensors={"ac_load_power": {"entity": "sensor.a"}}))
    assert boat.sensors.ac_load_power == Sensor("sensor.a", 1.0)


def test_a_meter_that_counts_backwards_is_read_with_the_other_sign() -> None:
    meter = {"entity": "sensor.a", "unit": "kW", "reversed": True}
    boat = parse_boat(changed(sensors={"ac_load_power": meter}))
    assert boat.sensors.ac_load_power == Sensor("sensor.a", -1000.0)


def test_an_appliance_that_the_boat_has_not_got_is_no_appliance() -> None:
    with pytest.raises(KeyError, match="Wok"):
        parse_boat(SMALL).appliance("Wok")


def test_what_was_left_out_is_not_written() -> None:
    assert boat_to_mapping(parse_boat(SMALL)) == SMALL


def test_an_empty_key_is_a_key_left_out() -> None:
    assert parse_boat(changed(inverter=None, appliances=None)) == parse_boat(SMALL)


def test_the_message_is_one_line_with_field_value_and_what_is_allowed() -> None:
    message = first_problem(
        changed(
            circuits=[
                {"name": "Galley 1", "breaker_current": 15, "voltage": 120},
                {"name": "Galley 2", "breaker_current": 15, "voltage": 120},
            ],
            appliances=[
                {
                    "name": "Hob",
                    "kind": "induction_hob",
                    "rated_power": 1800,
                    "circuit": "Galley 3",
                }
            ],
        )
    )

    assert message == (
        "appliances[0].circuit: 'Galley 3' is not one of the boat's circuits"
        " (Galley 1, Galley 2)"
    )


def test_all_problems_are_told_and_the_first_is_the_message() -> None:
    description = changed(
        latitude=95,
        bank={"capacity": 5, "nominal_voltage": "12 V", "reserve_soc": -1},
        appliances=[{"name": "Hob", "kind": "stove", "rated_power": True}, "Oven"],
    )

    problems = boat_problems(description)

    assert [(p.path, p.fault) for p in problems] == [
        (("latitude",), Fault.OUT_OF_RANGE),
        (("bank", "capacity"), Fault.UNKNOWN_KEY),
        (("bank", "capacity_ah"), Fault.MISSING),
        (("bank", "nominal_voltage"), Fault.WRONG_TYPE),
        (("bank", "reserve_soc"), Fault.OUT_OF_RANGE),
        (("appliances", 0, "kind"), Fault.NOT_ALLOWED),
        (("appliances", 0, "rated_power"), Fault.WRONG_TYPE),
        (("appliances", 1), Fault.WRONG_TYPE),
    ]
    assert first_problem(description) == said(problems[0])
    assert boat_problems(SMALL) == ()


@pytest.mark.parametrize(
    ("parts", "start"),
    [
        ({"name": "  "}, "name: '  ' is not a name of 1 to 100 printable"),
        ({"name": "two\nlines"}, "name: 'two\\nlines' is not a name"),
        ({"longitude": float("inf")}, "longitude: inf is not a number"),
        ({"latitude": 10**400}, "latitude: a huge number is not a number from -90"),
        ({"time_zone": 1}, "time_zone: 1 is not the name of a time zone"),
        ({"time_zone": "../UTC"}, "time_zone: '../UTC' is not the name"),
        ({"sensors": {}}, "sensors: no way to a load"),
        (
            {"sensors": {"ac_load_power": 7}},
            "sensors.ac_load_power: 7 is not an entity",
        ),
        (
            {"sensors": {"ac_load_power": {"unit": "W"}}},
            "sensors.ac_load_power.entity: missing",
        ),
        (
            {"sensors": {"ac_load_power": {"entity": "light.lamp"}}},
            "sensors.ac_load_power.entity: 'light.lamp' is not an entity id",
        ),
        (
            {"sensors": {"ac_load_power": {"entity": "sensor.a", "unit": ["W"]}}},
            "sensors.ac_load_power.unit: a list is not one of the units W, kW, mW",
        ),
        (
            {"sensors": {"ac_load_power": {"entity": "sensor.a", "reversed": "yes"}}},
            "sensors.ac_load_power.reversed: 'yes' is not true or false",
        ),
        (
            {"sensors": {"battery_power": {"entity": "sensor.a", "reversed": True}}},
            "sensors.battery_power.reversed: unknown key; allowed are entity, unit",
        ),
        (
            {
                "sensors": {
                    "ac_load_power": "sensor.a",
                    "battery_power": "sensor.b",
                    "battery_power_positive": "up",
                }
            },
            "sensors.battery_power_positive: 'up' is not one of charging, discharging",
        ),
        (
            {"sensors": {"ac_load_power": "sensor.a", "battery_current": "sensor.b"}},
            "sensors.battery_voltage: missing; battery_current gives a power only",
        ),
        (
            {"solar": {"array_power": 500, "forecast": ["light.lamp"]}},
            "solar.forecast[0]: 'light.lamp' is not a sensor",
        ),
        (
            {"solar": {"array_power": 500, "forecast": 3}},
            "solar.forecast: 3 is not a sensor",
        ),
        (
            {
                "circuits": [
                    {
                        "name": "Galley 1",
                        "breaker_current": 15,
                        "voltage": 120,
                        "other_loads": "perhaps",
                    }
                ]
            },
            "circuits[0].other_loads: 'perhaps' is not true or false",
        ),
        (
            {"dishes": [{"name": "Stew", "appliances": ["Hob"]}]},
            "dishes[0].appliances: a list is not a mapping of appliances to minutes",
        ),
        (
            {"dishes": [{"name": "Stew", "appliances": {"Hob": 0}}]},
            "dishes[0].appliances.Hob: 0 is not a number above 0, at most 1440 minutes",
        ),
        (
            {"sensors": {"ac_load_power": "sensor.a", "solar_power": ["sensor.b", 5]}},
            "sensors.solar_power[1]: 5 is not an entity id",
        ),
        (
            {"dishes": [{"name": "Stew", "energy": 1, "ready_by": "24:00"}]},
            "dishes[0].ready_by: '24:00' is not a time of day",
        ),
        (
            {"dishes": [{"name": "Stew", "appliances": {"Hob": 5}}]},
            "dishes[0].appliances.Hob: 'Hob' is not one of the boat's appliances"
            " (it has none)",
        ),
    ],
)
def test_a_mistake_is_told_where_it_is(parts: dict[str, Any], start: str) -> None:
    message = first_problem(changed(**parts))

    assert message.startswith(start)
    assert "\n" not in message


@pytest.mark.parametrize("description", [None, "Petrel", 5, [], [SMALL]])
def test_what_is_no_mapping_is_no_boat(description: Any) -> None:
    assert "is not a mapping with the keys name, latitude" in first_problem(description)


def test_a_sensor_counts_once_wherever_it_stands() -> None:
    twice = changed(sensors={"ac_load_power": "sensor.a", "solar_power": ["sensor.a"]})
    assert "is ac_load_power too" in first_problem(twice)
    meter = changed(
        appliances=[
            {
                "name": "Kettle",
                "kind": "kettle",
                "rated_power": 2000,
                "power_sensor": "sensor.inverter",
            }
        ]
    )
    assert "is sensors.ac_load_power too" in first_problem(meter)


def test_what_one_relay_switches_is_one_circuit() -> None:
    circuit = {"breaker_current": 15, "voltage": 120, "relay": "switch.galley"}
    message = first_problem(
        changed(circuits=[{"name": "A", **circuit}, {"name": "B", **circuit}])
    )
    assert message.startswith(
        "circuits[1].relay: 'switch.galley' is the relay of A too"
    )


@pytest.mark.parametrize("given_time", ["7:05", "07:05", "07:05:00", time(7, 5)])
def test_a_time_of_day_may_be_written_as_people_do(given_time: Any) -> None:
    assert clock_time(given_time) == time(7, 5)


def test_a_dish_may_be_a_name_that_its_meals_will_fill() -> None:
    boat = parse_boat(changed(dishes=[{"name": "Porridge"}]))
    assert (boat.dishes[0].minutes, boat.dishes[0].energy_wh) == ({}, None)


def test_a_form_reads_its_section_by_itself() -> None:
    bank = SECTIONS["bank"]

    assert bank.parse(SMALL["bank"]) == parse_boat(SMALL).bank
    assert bank.problems(SMALL["bank"]) == ()
    assert bank.write(bank.parse(SMALL["bank"])) == SMALL["bank"]
    problems = bank.problems({"capacity_ah": 0, "nominal_voltage": 12.8})
    assert [problem.path for problem in problems] == [
        ("capacity_ah",),
        ("reserve_soc",),
    ]
    with refused(BoatError, match="capacity_ah: 0 is not a number above 0"):
        bank.parse({"capacity_ah": 0, "nominal_voltage": 12.8, "reserve_soc": 20})


def test_every_section_says_what_its_keys_are() -> None:
    assert set(SECTIONS) == {
        "sensors",
        "bank",
        "inverter",
        "solar",
        "appliance",
        "circuit",
        "dish",
    }
    for section in SECTIONS.values():
        (problem,) = section.problems("text")
        assert all(key in said(problem) for key in section.keys)


def test_a_value_is_shown_on_one_line_and_never_at_length() -> None:
    assert shown("a\nb") == "'a\\nb'"
    assert shown(None) == phrase("boat.nothing")
    assert shown({"a": 1}) == phrase("boat.mapping")
    assert len(shown("x" * 1000)) == 60
    assert shown(time(7, 5)) == "07:05:00"
    assert path_text(("dishes", 0, "appliances", "Köhler: 2")) == (
        "dishes[0].appliances.'Köhler: 2'"
    )


def test_an_error_of_the_schema_library_itself_is_a_problem_too() -> None:
    (problem,) = problems_in(vol.Invalid("something else", ["bank"]))
    assert said(problem) == "bank: something else"


SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
KEYS = st.sampled_from([*SMALL, "appliances", "dishes", "circuits", "x"]) | st.text(
    max_size=4
)
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(KEYS | SCALARS, inner, max_size=4)
    ),
    max_leaves=12,
)


@given(st.dictionaries(KEYS, ANYTHING, max_size=8), st.sampled_from(sorted(SMALL)))
@settings(max_examples=200, deadline=None)
def test_no_description_does_worse_than_one_line(
    nonsense: dict[str, Any], kept: str
) -> None:
    description = {**SMALL, **nonsense, kept: SMALL[kept]}
    for problem in boat_problems(description):
        assert len(said(problem).splitlines()) == 1
