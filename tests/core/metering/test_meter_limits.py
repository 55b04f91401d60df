"""A reading that cannot be is not believed, and any that can be is."""

from collections.abc import Iterator
from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.boat.sensor_role import Role
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.source import Source, sources_of
from demo.simulator import SimOptions, random_boat, simulate
from tests.said import said

ENTITIES = {
    Role.AC_LOAD: "sensor.ac",
    Role.DC_LOAD: "sensor.dc",
    Role.SOLAR: "sensor.sun",
    Role.OTHER_CHARGING: "sensor.shore",
    Role.BATTERY_POWER: "sensor.bank",
    Role.BATTERY_CURRENT: "sensor.shunt",
    Role.BATTERY_VOLTAGE: "sensor.volts",
    Role.METER: "sensor.plug",
}


def boat(**parts: Any) -> Boat:
    """Return a boat with every meter there is."""
    return parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "Atlantic/Azores",
            "sensors": {
                "ac_load_power": "sensor.ac",
                "dc_load_power": "sensor.dc",
                "solar_power": "sensor.sun",
                "other_charging_power": "sensor.shore",
                "battery_power": "sensor.bank",
                "battery_current": "sensor.shunt",
                "battery_voltage": "sensor.volts",
            },
            "bank": {
                "capacity_ah": 400,
                "nominal_voltage": 12.8,
                "reserve_soc": 30,
                "max_discharge_current": 200,
            },
            "inverter": {"continuous_power": 2500, "efficiency": 0.9},
            "solar": {"array_power": 540},
            "appliances": [
                {
                    "name": "Kettle",
                    "kind": "kettle",
                    "rated_power": 1500,
                    "power_sensor": "sensor.plug",
                }
            ],
            **parts,
        }
    )


def meter(role: Role, aboard: Boat | None = None) -> Source:
    """Return the meter of a role."""
    return next(s for s in sources_of(aboard or boat()) if s.role is role)


# What registers without a value look like


@pytest.mark.parametrize("role", ENTITIES)
@pytest.mark.parametrize(
    "state",
    [
        "65535", "32767", "-32768", "6553.5", "3276.7", "-3276.8", "4294967295",
        "429496729.5", "6.5535e4", "65535.0", "65534",
    ],
)  # fmt: skip
def test_an_empty_register_is_no_value_of_any_meter(role: Role, state: str) -> None:
    assert meter(role).value_in(state) is None


@pytest.mark.parametrize("state", ["327.67", "655.35", "-327.68", "6553.5"])
def test_nor_is_one_that_is_scaled_to_hundredths_of_an_ampere(state: str) -> None:
    assert meter(Role.BATTERY_CURRENT).value_in(state) is None


@pytest.mark.parametrize(
    ("nominal_v", "state"),
    [(12.8, "65.535"), (25.6, "32.767"), (51.2, "65.535"), (12.8, "32.768")],
)
def test_nor_is_one_that_is_scaled_to_thousandths_of_a_volt(
    nominal_v: float, state: str
) -> None:
    bank = {"capacity_ah": 400, "nominal_voltage": nominal_v, "reserve_soc": 30}
    assert meter(Role.BATTERY_VOLTAGE, boat(bank=bank)).value_in(state) is None


def test_the_same_digits_are_a_value_where_they_are_likely() -> None:
    big = boat(inverter={"continuous_power": 5000})
    assert meter(Role.AC_LOAD, big).value_in("3276.7") == 3276.7
    assert meter(Role.AC_LOAD, big).value_in("6553.5") is None
    assert meter(Role.METER).value_in("655.35") == 655.35
    assert meter(Role.SOLAR).value_in("327.67") == 327.67


def test_digits_are_those_of_the_meter_whatever_its_unit() -> None:
    sensors = {"ac_load_power": {"entity": "sensor.ac", "unit": "kW"}}
    in_kw = boat(sensors=sensors)
    assert meter(Role.AC_LOAD, in_kw).value_in("6.5535") is None
    assert meter(Role.AC_LOAD, in_kw).value_in("3.2767") is None
    assert meter(Role.AC_LOAD, in_kw).value_in("3.2766") == pytest.approx(3276.6)
    assert meter(Role.AC_LOAD, in_kw).value_in("65.5") is None


# What is believed


@settings(deadline=None)
@given(
    continuous_w=st.floats(50, 20_000),
    array_w=st.floats(5, 20_000),
    discharge_a=st.one_of(st.none(), st.floats(20, 2000)),
    rated_w=st.floats(5, 5000),
    share=st.floats(-0.999, 0.999),
    capacity_ah=st.floats(50, 3000),
)
def test_what_surges_do_is_believed(
    continuous_w: float,
    array_w: float,
    discharge_a: float | None,
    rated_w: float,
    share: float,
    capacity_ah: float,
) -> None:
    """Twice the inverter's power, twice what the bank gives for long, and so on."""
    bank = {
        "capacity_ah": capacity_ah,
        "nominal_voltage": 25.6,
        "reserve_soc": 30,
        "max_discharge_current": discharge_a,
    }
    kettle = {
        "name": "Kettle",
        "kind": "kettle",
        "rated_power": rated_w,
        "power_sensor": "sensor.plug",
    }
    aboard = boat(
        bank=bank,
        inverter={"continuous_power": continuous_w, "efficiency": 0.9},
        solar={"array_power": array_w},
        appliances=[kettle],
    )
    discharge_w = 25.6 * (discharge_a or capacity_ah)
    for role, most_w in (
        (Role.AC_LOAD, max(2 * continuous_w, 15_000)),
        (Role.SOLAR, 2 * array_w),
        (Role.METER, 3 * rated_w),
        (Role.BATTERY_POWER, 2 * discharge_w),
        (Role.BATTERY_POWER, 2 * continuous_w / 0.9),
        (Role.DC_LOAD, 2 * discharge_w),
        (Role.OTHER_CHARGING, 2 * array_w),
    ):
        value = round(share * most_w, 3) + 0.0001
        assert meter(role, aboard).value_in(repr(value)) == value
    value = round(share * 2 * discharge_w / 25.6, 3) + 0.0001
    assert meter(Role.BATTERY_CURRENT, aboard).value_in(repr(value)) == value


def test_what_the_boat_file_does_not_tell_bounds_nothing() -> None:
    bare = boat(inverter=None, solar=None)
    for role in (Role.AC_LOAD, Role.SOLAR):
        assert meter(role, bare).value_in("900000") == 900_000
        assert meter(role, bare).value_in("2000000") is None


def test_a_bank_without_a_stated_limit_is_bounded_by_its_size() -> None:
    bank = {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 30}
    aboard = boat(bank=bank)
    assert meter(Role.BATTERY_POWER, aboard).value_in("-20000") == -20_000
    assert meter(Role.BATTERY_POWER, aboard).value_in("-30000") is None
    assert meter(Role.BATTERY_CURRENT, aboard).value_in("-2500") is None


# In the pipeline


def samples_of(
    aboard: Boat, rows: list[tuple[str, str, float]]
) -> Iterator[LoadSample]:
    return iter(LoadAssembler(aboard).feed_all(rows))


@settings(max_examples=8, deadline=None)
@given(data=st.data(), seed=st.integers(1, 3), dc_only=st.booleans())
def test_a_glitch_costs_one_reading_and_no_more(
    data: st.DataObject, seed: int, dc_only: bool
) -> None:
    options = SimOptions(
        days=0.25,
        period_s=5,
        start="2026-05-11T10:00:00+00:00",
        dc_only=dc_only,
        appliances=3,
    )
    world = random_boat(seed, options)
    aboard = parse_boat(world.description)
    rows = list(simulate(world, seed, options).rows())
    role = Role.BATTERY_POWER if dc_only else Role.AC_LOAD
    if dc_only and aboard.sensors.battery_power is None:
        role = Role.BATTERY_CURRENT
    entity_id = meter(role, aboard).entity_id
    own = [index for index, row in enumerate(rows) if row[0] == entity_id]
    at = data.draw(st.sampled_from(own[10:-10]))
    state = data.draw(st.sampled_from(["65535", "32767", "-32768", "6553.5"]))
    spoilt = [*rows]
    spoilt[at] = (entity_id, state, rows[at][2])
    clean = {s.at_s: s.load_w for s in samples_of(aboard, rows)}
    after_s = rows[own[own.index(at) + 1]][2]
    most_w = max(w for w in clean.values() if w is not None)
    lost = 0
    for sample in samples_of(aboard, spoilt):
        assert sample.load_w is None or sample.load_w <= most_w + 1.0
        if sample.load_w is None and clean.get(sample.at_s) is not None:
            assert rows[at][2] - 30.0 <= sample.at_s <= after_s + 30.0
            lost += 1
    assert lost > 0


def test_readings_name_the_meter_that_told_it() -> None:
    assembler = LoadAssembler(boat())
    assembler.feed_all([("sensor.sun", "200", 0.0), ("sensor.sun", "65535", 60.0)])
    (complaint,) = (one for one in assembler.missing if one.entity_id == "sensor.sun")
    assert said(complaint.said) == (
        "The solar meter (sensor.sun) has been unreadable for 0 min."
    )
