"""Meters that count backwards, in the forms: seen, turned, and written as they were read."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import mapping_from_entry
from custom_components.galley_loads.const import CONF_REVERSED
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from tests.at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    SOLAR,
    boat_entry,
    set_sensors,
    start_boat,
)
from tests.flow_steps import (
    ARRAY,
    BANK,
    BOAT,
    INVERTER,
    SENSORS,
    add,
    answer,
    answer_part,
    begin,
    change,
    reconfigure,
    suggested,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

PLUG = "sensor.plug"
OTHER_PLUG = "sensor.other_plug"
WIND = "sensor.wind"

BACKWARDS = {"entity": PLUG, "unit": "kW", "reversed": True}
OVEN = {"name": "Oven", "kind": "oven", "rated_power": 2000, "supply": "ac"}


def meters_aboard(hass: HomeAssistant) -> None:
    set_sensors(hass, -120)
    hass.states.async_set(PLUG, "-0.1", {"unit_of_measurement": "kW"})
    hass.states.async_set(OTHER_PLUG, "40", {"unit_of_measurement": "W"})
    hass.states.async_set(WIND, "-30", {"unit_of_measurement": "W"})


def with_meters(
    sensors: dict[str, Any] | None = None, oven: Any = BACKWARDS
) -> MockConfigEntry:
    """Return Kittiwake with some sensors, and an oven with its own meter."""
    mapping = {
        **KITTIWAKE,
        "sensors": {**KITTIWAKE["sensors"], **(sensors or {})},
        "appliances": [{**OVEN, "power_sensor": oven}],
    }
    return boat_entry(mapping)


def sensors_of(entry: MockConfigEntry) -> dict[str, Any]:
    sensors: dict[str, Any] = mapping_from_entry(entry)["sensors"]
    return sensors


def oven_meter(entry: MockConfigEntry) -> Any:
    return mapping_from_entry(entry)["appliances"][0].get("power_sensor")


async def test_the_sensors_form_shows_and_turns_meters_that_count_backwards(
    hass: HomeAssistant,
) -> None:
    meters_aboard(hass)
    entry = await start_boat(
        hass, with_meters({"ac_load_power": {"entity": LOAD, "reversed": True}})
    )
    result = await reconfigure(hass, entry, "sensors")
    given = suggested(result)
    # The oven's own meter is a matter of the oven's form.
    assert given[CONF_REVERSED] == [LOAD]
    given |= {"other_charging_power": [WIND], CONF_REVERSED: [WIND, SOLAR]}
    result = await answer(hass, result, given)
    assert result["reason"] == "reconfigure_successful"
    sensors = sensors_of(entry)
    assert sensors["ac_load_power"] == LOAD
    assert sensors["solar_power"] == [{"entity": SOLAR, "reversed": True}]
    assert sensors["other_charging_power"] == [{"entity": WIND, "reversed": True}]
    assert oven_meter(entry) == BACKWARDS
    # And it is read like that from now on.
    assert entry.runtime_data.coordinator._engine.last_sample.other_charging_w == 30.0

    result = await reconfigure(hass, entry, "sensors")
    given = suggested(result)
    del given[CONF_REVERSED]
    await answer(hass, result, given)
    assert sensors_of(entry)["other_charging_power"] == [WIND]
    assert oven_meter(entry) == BACKWARDS


@pytest.mark.parametrize(
    "sensors",
    [
        {},
        {"ac_load_power": {"entity": LOAD, "reversed": True}},
        {
            "solar_power": [{"entity": SOLAR, "reversed": True}],
            "other_charging_power": [WIND],
        },
    ],
)
async def test_forms_that_are_sent_as_they_are_change_nothing(
    hass: HomeAssistant, sensors: dict[str, Any]
) -> None:
    meters_aboard(hass)
    entry = await start_boat(hass, with_meters(sensors))
    before = parse_boat(mapping_from_entry(entry))
    result = await reconfigure(hass, entry, "sensors")
    await answer(hass, result, suggested(result))
    result = await change(hass, entry, "Oven")
    await answer_part(hass, result, suggested(result))
    after = mapping_from_entry(entry)
    assert parse_boat(after) == before
    # The file that is written makes the same boat.
    assert mapping_from_entry(boat_entry(after)) == after


@pytest.mark.parametrize("unfit", [CURRENT, PLUG, WIND])
async def test_only_a_meter_that_the_form_names_can_count_backwards(
    hass: HomeAssistant, unfit: str
) -> None:
    meters_aboard(hass)
    entry = await start_boat(hass, with_meters())
    result = await reconfigure(hass, entry, "sensors")
    given = suggested(result)
    result = await answer(hass, result, {**given, CONF_REVERSED: [LOAD, unfit]})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == {CONF_REVERSED: "not_one_way"}
    assert result["description_placeholders"] == {"problem": unfit}
    # What was chosen is still there to be corrected.
    assert suggested(result)[CONF_REVERSED] == [LOAD, unfit]
    result = await answer(hass, result, {**given, CONF_REVERSED: [LOAD]})
    assert result["reason"] == "reconfigure_successful"
    assert sensors_of(entry)["ac_load_power"] == {"entity": LOAD, "reversed": True}


async def test_a_meter_that_is_no_longer_read_is_forgotten(hass: HomeAssistant) -> None:
    meters_aboard(hass)
    entry = await start_boat(
        hass,
        with_meters({"other_charging_power": [{"entity": WIND, "reversed": True}]}),
    )
    for chosen in ({}, {"other_charging_power": [WIND]}):
        result = await reconfigure(hass, entry, "sensors")
        given = suggested(result)
        given.pop("other_charging_power", None)
        given.pop(CONF_REVERSED, None)
        await answer(hass, result, {**given, **chosen})
    assert sensors_of(entry)["other_charging_power"] == [WIND]


async def test_a_boat_is_set_up_with_a_meter_that_counts_backwards(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass, -120)
    result = await begin(hass, "sensors")
    result = await answer(hass, result, {**SENSORS, CONF_REVERSED: [CURRENT]})
    assert result["errors"] == {CONF_REVERSED: "not_one_way"}
    result = await answer(
        hass,
        result,
        {**SENSORS, CONF_REVERSED: [LOAD]},
        BANK,
        INVERTER,
        ARRAY,
        BOAT,
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    entry = result["result"]
    assert sensors_of(entry)["ac_load_power"] == {"entity": LOAD, "reversed": True}
    assert entry.runtime_data.coordinator._engine.last_sample.load_w == 120.0


async def test_the_form_of_an_appliance_shows_and_turns_its_own_meter(
    hass: HomeAssistant,
) -> None:
    meters_aboard(hass)
    load = {"ac_load_power": {"entity": LOAD, "reversed": True}}
    entry = await start_boat(hass, with_meters(load))
    result = await change(hass, entry, "Oven")
    given = suggested(result)
    assert given[CONF_REVERSED] is True
    await answer_part(hass, result, {**given, CONF_REVERSED: False})
    assert oven_meter(entry) == {"entity": PLUG, "unit": "kW"}
    # The boat's own meter stays as it is.
    assert sensors_of(entry)["ac_load_power"] == load["ac_load_power"]

    result = await change(hass, entry, "Oven", {**given, CONF_REVERSED: True})
    assert oven_meter(entry) == BACKWARDS
    # Another meter has a direction of its own.
    given |= {"power_sensor": OTHER_PLUG, CONF_REVERSED: False}
    await change(hass, entry, "Oven", given)
    assert oven_meter(entry) == OTHER_PLUG
    await change(hass, entry, "Oven", {**given, "power_sensor": PLUG})
    assert oven_meter(entry) == {"entity": PLUG, "unit": "kW"}


async def test_an_appliance_is_added_with_a_meter_that_counts_backwards(
    hass: HomeAssistant,
) -> None:
    meters_aboard(hass)
    entry = await start_boat(hass, boat_entry())
    given = {"name": "Hob", "kind": "induction_hob", "rated_power": 1800}
    result = await add(hass, entry, "appliance", {**given, CONF_REVERSED: True})
    assert result["errors"] == {CONF_REVERSED: "no_meter"}
    result = await answer_part(
        hass, result, {**given, "power_sensor": PLUG, CONF_REVERSED: True}
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    hob = mapping_from_entry(entry)["appliances"][-1]
    assert hob["power_sensor"] == BACKWARDS
    assert entry.runtime_data.coordinator._engine.last_sample.metered_w == (
        ("Hob", 100.0),
    )
