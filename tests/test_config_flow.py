"""Setting a boat up, step by step and from a file, and changing it."""

from pathlib import Path
from typing import Any
from unittest.mock import patch

from homeassistant.components.energy.data import async_get_manager
from homeassistant.config_entries import SOURCE_USER, ConfigEntryState, ConfigFlowResult
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
import yaml

from custom_components.galley_loads.boat_entry import boat_from_entry
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.boat_schema import parse_boat

from .at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    RELAY,
    SOC,
    SOLAR,
    VOLTAGE,
    boat_entry,
    set_sensors,
    start_boat,
    subentry_id,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

SENSORS = {
    "ac_load_power": LOAD,
    "solar_power": [SOLAR],
    "battery_current": CURRENT,
    "battery_voltage": VOLTAGE,
    "battery_soc": SOC,
    "battery_power_positive": "charging",
}
BANK = {
    "capacity_ah": 560,
    "nominal_voltage": 12.8,
    "reserve_soc": 35,
    "chemistry": "lfp",
    "details": {"charge_efficiency": 97},
}
INVERTER = {"continuous_power": 2500, "idle_power": 18, "efficiency": 92}
ARRAY = {"array_power": 540}
BOAT = {
    "name": "Kittiwake",
    "location": {"latitude": 38.53, "longitude": -28.62},
    "time_zone": "Atlantic/Azores",
}


async def begin(hass: HomeAssistant, way: str) -> ConfigFlowResult:
    """Start the flow and choose a way in its menu."""
    result = await hass.config_entries.flow.async_init(
        DOMAIN, context={"source": SOURCE_USER}
    )
    assert result["type"] is FlowResultType.MENU
    return await hass.config_entries.flow.async_configure(
        result["flow_id"], {"next_step_id": way}
    )


async def answer(
    hass: HomeAssistant, result: ConfigFlowResult, *answers: dict[str, Any]
) -> ConfigFlowResult:
    """Answer one form after the other."""
    for one in answers:
        result = await hass.config_entries.flow.async_configure(result["flow_id"], one)
    return result


def suggested(result: ConfigFlowResult) -> dict[str, Any]:
    """Return what a form suggests."""
    return {
        str(key): key.description["suggested_value"]
        for key in result["data_schema"].schema
        if key.description and "suggested_value" in key.description
    }


async def test_a_boat_is_set_up_step_by_step(hass: HomeAssistant) -> None:
    set_sensors(hass)
    result = await begin(hass, "sensors")
    for step, given in (
        ("sensors", SENSORS),
        ("bank", BANK),
        ("inverter", INVERTER),
        ("solar", ARRAY),
        ("boat", BOAT),
    ):
        assert result["type"] is FlowResultType.FORM
        assert result["step_id"] == step
        result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.CREATE_ENTRY
    assert result["title"] == "Kittiwake"
    await hass.async_block_till_done(wait_background_tasks=True)
    boat = boat_from_entry(result["result"])
    assert boat.sensors.solar_power[0].entity_id == SOLAR
    assert boat.sensors.battery_sign == 1
    assert boat.bank.charge_efficiency == pytest.approx(0.97)
    assert boat.inverter is not None
    assert boat.inverter.efficiency == pytest.approx(0.92)
    assert boat.solar is not None
    assert str(boat.time_zone) == "Atlantic/Azores"
    assert hass.states.get("sensor.kittiwake_background_power").state == "120.0"


async def test_a_galley_on_dc_has_no_inverter_and_needs_no_array(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"battery_current": CURRENT, "battery_voltage": VOLTAGE},
        {"capacity_ah": 200, "nominal_voltage": 12, "reserve_soc": 50},
        {},
        {},
        BOAT,
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    boat = boat_from_entry(result["result"])
    assert boat.inverter is None
    assert boat.solar is None
    assert boat.conversion == 1.0
    await hass.async_block_till_done(wait_background_tasks=True)


@pytest.mark.parametrize(
    ("sensors", "errors"),
    [
        ({}, {"base": "no_way_to_load"}),
        ({"battery_current": CURRENT}, {"battery_voltage": "missing"}),
        ({"ac_load_power": "sensor.nobody"}, {"ac_load_power": "sensor_missing"}),
        ({"ac_load_power": VOLTAGE}, {"ac_load_power": "no_power_unit"}),
        ({"ac_load_power": "sensor.words"}, {"ac_load_power": "no_number"}),
        (
            {"ac_load_power": LOAD, "solar_power": [SOLAR, SOC]},
            {"solar_power": "no_power_unit"},
        ),
        (
            {"ac_load_power": LOAD, "battery_power": LOAD},
            {"battery_power": "duplicate"},
        ),
        (
            {"ac_load_power": LOAD, "battery_soc": VOLTAGE},
            {"battery_soc": "no_charge_unit"},
        ),
        (
            {"ac_load_power": LOAD, "battery_voltage": CURRENT},
            {"battery_voltage": "no_voltage_unit"},
        ),
    ],
)
async def test_a_sensor_that_cannot_serve_is_told_at_its_field(
    hass: HomeAssistant, sensors: dict[str, Any], errors: dict[str, str]
) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.words", "calm", {"unit_of_measurement": "W"})
    result = await begin(hass, "sensors")
    result = await answer(hass, result, sensors)
    assert result["type"] is FlowResultType.FORM
    assert result["step_id"] == "sensors"
    assert result["errors"] == errors
    # And what was answered is still there; a better answer goes on.
    assert suggested(result) == sensors
    result = await answer(hass, result, SENSORS)
    assert result["step_id"] == "bank"
    assert not result["errors"]


async def test_a_bank_of_nothing_is_told_at_the_field(hass: HomeAssistant) -> None:
    set_sensors(hass)
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS, {**BANK, "capacity_ah": 0})
    assert result["step_id"] == "bank"
    assert result["errors"] == {"capacity_ah": "out_of_range"}
    result = await answer(hass, result, BANK)
    assert result["step_id"] == "inverter"


async def test_an_inverter_without_its_power_is_told_at_the_field(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS, BANK, {"efficiency": 90})
    assert result["step_id"] == "inverter"
    assert result["errors"] == {"continuous_power": "missing"}
    result = await answer(hass, result, INVERTER)
    assert result["step_id"] == "solar"


async def test_a_sensor_in_kilowatts_is_read_in_watts(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.load_kw", "0.25", {"unit_of_measurement": "kW"})
    result = await begin(hass, "sensors")
    result = await answer(
        hass, result, {"ac_load_power": "sensor.load_kw"}, BANK, INVERTER, {}, BOAT
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(result["result"]).sensors.ac_load_power.scale == 1000
    assert hass.states.get("sensor.kittiwake_background_power").state == "250.0"


async def test_an_array_needs_its_sensor_where_nothing_else_tells_the_load(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"battery_current": CURRENT, "battery_voltage": VOLTAGE},
        BANK,
        {},
        ARRAY,
        BOAT,
    )
    assert result["step_id"] == "boat"
    assert result["errors"] == {"base": "no_load"}
    assert "solar_power" in result["description_placeholders"]["problem"]


async def test_two_boats_cannot_have_one_name(hass: HomeAssistant) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.other", "5", {"unit_of_measurement": "W"})
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"ac_load_power": "sensor.other"},
        BANK,
        INVERTER,
        ARRAY,
        {**BOAT, "name": "kittiwake "},
    )
    assert result["errors"] == {"name": "name_taken"}
    result = await answer(hass, result, {**BOAT, "name": "Fulmar"})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_the_same_load_sensors_are_the_same_boat(hass: HomeAssistant) -> None:
    set_sensors(hass)
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS)
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "already_configured"


# From a file


async def test_a_boat_comes_from_pasted_text(hass: HomeAssistant) -> None:
    set_sensors(hass)
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    entry = result["result"]
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(entry) == parse_boat(KITTIWAKE)
    assert hass.states.get("sensor.oven_state").state == "off"
    assert {sub.title for sub in entry.subentries.values()} == {
        "Kettle",
        "Oven",
        "Galley 1",
        "Bread",
    }


async def test_a_boat_comes_from_an_uploaded_file(
    hass: HomeAssistant, tmp_path: Path
) -> None:
    set_sensors(hass)
    file = tmp_path / "boat.yaml"
    file.write_text(yaml.safe_dump({**KITTIWAKE, "meal_gap_minutes": 45}))
    result = await begin(hass, "boat_file")
    with patch(
        "custom_components.galley_loads.flows.boat_file.process_uploaded_file"
    ) as upload:
        upload.return_value.__enter__.return_value = file
        result = await answer(
            hass, result, {"file": "5a1cbe9b2f8c4a7e9d3b6c0f1e2d4a5b"}
        )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    assert boat_from_entry(result["result"]).meal_gap_minutes == 45
    await hass.async_block_till_done(wait_background_tasks=True)


@pytest.mark.parametrize(
    ("given", "errors", "told"),
    [
        ({}, {"text": "missing"}, "missing"),
        ({"text": "a: [b"}, {"text": "unreadable"}, "line 1"),
        (
            {"text": yaml.safe_dump({**KITTIWAKE, "bank": {"capacity_ah": -1}})},
            {"text": "out_of_range"},
            "bank.capacity_ah",
        ),
        (
            {"text": yaml.safe_dump({**KITTIWAKE, "colour": "red"})},
            {"text": "unknown_key"},
            "colour",
        ),
        (
            {
                "text": yaml.safe_dump(
                    {**KITTIWAKE, "sensors": {"ac_load_power": VOLTAGE}}
                )
            },
            {"base": "sensor_unfit"},
            "ac_load_power",
        ),
        (
            {"file": "5a1cbe9b2f8c4a7e9d3b6c0f1e2d4a5b"},
            {"file": "unreadable"},
            "File does not exist",
        ),
    ],
)
async def test_a_broken_boat_file_is_told_and_can_be_mended(
    hass: HomeAssistant, given: dict[str, Any], errors: dict[str, str], told: str
) -> None:
    set_sensors(hass)
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    assert told in result["description_placeholders"]["problem"]
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_boat_file_notes_the_unit_that_a_sensor_has(
    hass: HomeAssistant,
) -> None:
    hass.states.async_set("sensor.load_kw", "0.25", {"unit_of_measurement": "kW"})
    mapping = {**KITTIWAKE, "sensors": {"ac_load_power": "sensor.load_kw"}}
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(mapping)})
    assert boat_from_entry(result["result"]).sensors.ac_load_power.scale == 1000
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_boat_file_notes_the_unit_of_an_appliances_meter(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "kW"})
    oven = {**KITTIWAKE["appliances"][1], "power_sensor": "sensor.plug"}
    mapping = {**KITTIWAKE, "appliances": [oven], "dishes": []}
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(mapping)})
    assert boat_from_entry(result["result"]).appliance("Oven").power_sensor.scale == (
        1000
    )
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_the_same_boat_file_twice_is_refused(hass: HomeAssistant) -> None:
    set_sensors(hass)
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "already_configured"


# Suggestions


async def set_energy_preferences(hass: HomeAssistant, prefs: dict[str, Any]) -> None:
    """Let the owner have told the energy dashboard something."""
    assert await async_setup_component(hass, "energy", {})
    manager = await async_get_manager(hass)
    manager.data = {"energy_sources": [], "device_consumption": [], **prefs}


async def test_sensors_of_the_energy_dashboard_are_suggested(
    hass: HomeAssistant,
    device_registry: dr.DeviceRegistry,
    entity_registry: er.EntityRegistry,
) -> None:
    set_sensors(hass)
    monitor = MockConfigEntry(domain="monitor")
    monitor.add_to_hass(hass)
    device = device_registry.async_get_or_create(
        config_entry_id=monitor.entry_id, identifiers={("monitor", "1")}
    )
    ids = {}
    for key, unit, device_class in (
        ("power", "W", "power"),
        ("volts", "V", "voltage"),
    ):
        entity = entity_registry.async_get_or_create(
            "sensor",
            "monitor",
            key,
            device_id=device.id,
            original_device_class=device_class,
            unit_of_measurement=unit,
            config_entry=monitor,
        )
        ids[key] = entity.entity_id
        hass.states.async_set(
            entity.entity_id,
            "12.9",
            {"unit_of_measurement": unit, "device_class": device_class},
        )
    await set_energy_preferences(
        hass,
        {
            "energy_sources": [
                {"type": "solar", "stat_energy_from": "sensor.x", "stat_rate": SOLAR},
                {
                    "type": "solar",
                    "stat_energy_from": "sensor.y",
                    "stat_rate": "sensor.gone",
                },
                {
                    "type": "battery",
                    "stat_energy_from": "sensor.a",
                    "stat_energy_to": "sensor.b",
                    "stat_rate": ids["power"],
                    "stat_soc": SOC,
                },
            ]
        },
    )
    result = await begin(hass, "sensors")
    assert suggested(result) == {
        "solar_power": [SOLAR],
        "battery_power": ids["power"],
        "battery_power_positive": "discharging",
        "battery_soc": SOC,
        "battery_voltage": ids["volts"],
    }


async def test_an_inverted_battery_is_suggested_as_positive_while_charging(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    await set_energy_preferences(
        hass,
        {
            "energy_sources": [
                {
                    "type": "battery",
                    "stat_energy_from": "sensor.a",
                    "stat_energy_to": "sensor.b",
                    "stat_rate": "sensor.generated",
                    "power_config": {"stat_rate_inverted": SOLAR},
                }
            ]
        },
    )
    result = await begin(hass, "sensors")
    assert suggested(result) == {
        "battery_power": SOLAR,
        "battery_power_positive": "charging",
    }


async def test_an_energy_dashboard_never_set_up_suggests_nothing(
    hass: HomeAssistant,
) -> None:
    assert await async_setup_component(hass, "energy", {})
    result = await begin(hass, "sensors")
    assert suggested(result) == {}


async def test_forecasts_that_are_there_are_offered(hass: HomeAssistant) -> None:
    set_sensors(hass)
    energy = {"device_class": "energy", "unit_of_measurement": "kWh"}
    hass.states.async_set("sensor.sun_tomorrow", "3", {**energy, "friendly_name": "S"})
    # A meter and a name that says nothing about the day are no forecasts.
    hass.states.async_set(
        "sensor.made_today", "3", {**energy, "state_class": "total_increasing"}
    )
    hass.states.async_set("sensor.sun", "3", energy)
    service = MockConfigEntry(domain="sunny", title="Sunny spells")
    service.add_to_hass(hass)
    service.mock_state(hass, ConfigEntryState.LOADED)
    assert await async_setup_component(hass, "energy", {})
    result = await begin(hass, "sensors")
    with patch(
        "custom_components.galley_loads.flows.suggestions.async_get_energy_platforms",
        return_value={"sunny": None, "clouded": None, DOMAIN: None},
    ):
        result = await answer(hass, result, SENSORS, BANK, INVERTER)
    options = result["data_schema"].schema["forecast"].config["options"]
    assert [(one["value"], one["label"]) for one in options] == [
        ("sunny", "Sunny spells"),
        ("sensor.sun_tomorrow", "S"),
    ]
    result = await answer(
        hass, result, {**ARRAY, "forecast": ["sensor.sun_tomorrow"]}, BOAT
    )
    boat = boat_from_entry(result["result"])
    assert boat.solar is not None
    assert boat.solar.forecast == ("sensor.sun_tomorrow",)
    await hass.async_block_till_done(wait_background_tasks=True)


# Changing a boat


async def reconfigure(
    hass: HomeAssistant, entry: MockConfigEntry, part: str
) -> ConfigFlowResult:
    """Start changing a part of a boat."""
    result = await entry.start_reconfigure_flow(hass)
    assert result["type"] is FlowResultType.MENU
    return await hass.config_entries.flow.async_configure(
        result["flow_id"], {"next_step_id": part}
    )


@pytest.mark.parametrize(
    ("part", "given", "attribute", "expected"),
    [
        ("bank", {**BANK, "capacity_ah": 400}, "bank.capacity_ah", 400),
        ("inverter", {**INVERTER, "efficiency": 88}, "inverter.efficiency", 0.88),
        ("inverter", {}, "inverter", None),
        ("solar", {"array_power": 1200}, "solar.array_power_w", 1200),
        ("solar", {}, "solar", None),
        ("sensors", {"ac_load_power": LOAD}, "sensors.battery_soc", None),
        ("boat", {**BOAT, "name": "Fulmar"}, "name", "Fulmar"),
    ],
)
async def test_each_part_of_a_boat_can_be_changed(
    hass: HomeAssistant, part: str, given: dict[str, Any], attribute: str, expected: Any
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await reconfigure(hass, entry, part)
    assert result["step_id"] == part
    result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "reconfigure_successful"
    await hass.async_block_till_done(wait_background_tasks=True)
    value: Any = boat_from_entry(entry)
    for name in attribute.split("."):
        value = getattr(value, name)
    assert value == expected
    # Nothing else was lost.
    assert [a.name for a in boat_from_entry(entry).appliances] == ["Kettle", "Oven"]
    assert hass.states.get("sensor.kettle_state").state == "off"


async def test_the_forms_show_the_boat_as_it_is(hass: HomeAssistant) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await reconfigure(hass, entry, "inverter")
    assert suggested(result) == {"continuous_power": 2500, "efficiency": 92}
    hass.config_entries.flow.async_abort(result["flow_id"])
    result = await reconfigure(hass, entry, "sensors")
    assert suggested(result)["solar_power"] == [SOLAR]
    hass.config_entries.flow.async_abort(result["flow_id"])
    result = await reconfigure(hass, entry, "boat")
    assert suggested(result) == BOAT


async def test_a_renamed_boat_keeps_its_entities(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    before = set(entity_registry.entities)
    result = await reconfigure(hass, entry, "boat")
    await answer(hass, result, {**BOAT, "name": "Fulmar"})
    await hass.async_block_till_done(wait_background_tasks=True)
    assert entry.title == "Fulmar"
    assert entry.unique_id == "fulmar"
    assert set(entity_registry.entities) == before


async def test_a_boat_cannot_take_the_name_of_another(hass: HomeAssistant) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    MockConfigEntry(domain=DOMAIN, title="Fulmar", unique_id="fulmar").add_to_hass(hass)
    result = await reconfigure(hass, entry, "boat")
    result = await answer(hass, result, {**BOAT, "name": "Fulmar"})
    assert result["errors"] == {"name": "name_taken"}
    result = await answer(hass, result, BOAT)
    assert result["reason"] == "reconfigure_successful"
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_change_that_does_not_fit_the_boat_is_told_in_the_form(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await reconfigure(hass, entry, "sensors")
    # With an array, battery power alone does not tell the load.
    result = await answer(
        hass, result, {"battery_current": CURRENT, "battery_voltage": VOLTAGE}
    )
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == {"solar_power": "no_load"}
    assert boat_from_entry(entry).sensors.ac_load_power is not None
    result = await answer(
        hass,
        result,
        {
            "battery_current": CURRENT,
            "battery_voltage": VOLTAGE,
            "solar_power": [SOLAR],
        },
    )
    assert result["reason"] == "reconfigure_successful"
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(entry).sensors.ac_load_power is None


async def test_options_change_what_a_meal_is(hass: HomeAssistant) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await hass.config_entries.options.async_init(entry.entry_id)
    assert result["type"] is FlowResultType.FORM
    assert suggested(result) == {"meal_gap_minutes": 30}
    result = await hass.config_entries.options.async_configure(
        result["flow_id"], {"meal_gap_minutes": 50}
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)
    assert entry.runtime_data.boat.meal_gap_minutes == 50


# Appliances, circuits, dishes


async def add(
    hass: HomeAssistant, entry: MockConfigEntry, kind: str, *answers: dict[str, Any]
) -> Any:
    """Add a part of the boat and answer its forms."""
    result = await hass.config_entries.subentries.async_init(
        (entry.entry_id, kind), context={"source": SOURCE_USER}
    )
    for one in answers:
        assert result["type"] is FlowResultType.FORM, result
        result = await hass.config_entries.subentries.async_configure(
            result["flow_id"], one
        )
    await hass.async_block_till_done(wait_background_tasks=True)
    return result


async def change(
    hass: HomeAssistant, entry: MockConfigEntry, name: str, *answers: dict[str, Any]
) -> Any:
    """Change a part of the boat and answer its forms."""
    result = await entry.start_subentry_reconfigure_flow(hass, subentry_id(entry, name))
    for one in answers:
        assert result["type"] is FlowResultType.FORM, result
        result = await hass.config_entries.subentries.async_configure(
            result["flow_id"], one
        )
    await hass.async_block_till_done(wait_background_tasks=True)
    return result


async def test_an_appliance_is_added_with_all_its_fields(hass: HomeAssistant) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "kW"})
    entry = await start_boat(hass, boat_entry())
    result = await add(
        hass,
        entry,
        "appliance",
        {
            "name": "Water bath",
            "kind": "water_bath",
            "rated_power": 1100,
            "standby_power": 1.5,
            "power_sensor": "sensor.plug",
            "supply": "ac",
            "circuit": subentry_id(entry, "Galley 1"),
        },
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    bath = boat_from_entry(entry).appliance("Water bath")
    assert bath.circuit == "Galley 1"
    assert bath.power_sensor.scale == 1000
    assert bath.standby_power_w == 1.5
    assert hass.states.get("sensor.water_bath_power") is not None


async def test_devices_of_the_energy_dashboard_are_offered_as_appliances(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "W"})
    entry = await start_boat(hass, boat_entry())
    await set_energy_preferences(
        hass,
        {
            "device_consumption": [
                {"stat_consumption": "sensor.e1", "stat_rate": "sensor.plug"},
                {"stat_consumption": "sensor.e2", "stat_rate": "sensor.gone"},
                {"stat_consumption": "sensor.e3", "stat_rate": LOAD, "name": "All"},
                {"stat_consumption": "sensor.e4"},
            ]
        },
    )
    result = await add(hass, entry, "appliance")
    assert result["type"] is FlowResultType.MENU
    configure = hass.config_entries.subentries.async_configure
    result = await configure(result["flow_id"], {"next_step_id": "metered"})
    options = result["data_schema"].schema["meter"].config["options"]
    assert [(one["value"], one["label"]) for one in options] == [
        ("sensor.plug", "plug")
    ]
    result = await configure(result["flow_id"], {"meter": "sensor.plug"})
    assert suggested(result) == {
        "name": "plug",
        "power_sensor": "sensor.plug",
        "supply": "ac",
    }
    result = await configure(
        result["flow_id"],
        {
            "name": "Rice cooker",
            "kind": "rice_cooker",
            "rated_power": 500,
            "power_sensor": "sensor.plug",
        },
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)
    # It is taken now, so nothing is left to offer.
    result = await add(hass, entry, "appliance")
    assert result["type"] is FlowResultType.FORM


async def test_an_offered_device_can_be_declined(hass: HomeAssistant) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "W"})
    entry = await start_boat(hass, boat_entry())
    await set_energy_preferences(
        hass,
        {
            "device_consumption": [
                {"stat_consumption": "sensor.e1", "stat_rate": "sensor.plug"}
            ]
        },
    )
    result = await add(hass, entry, "appliance")
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"], {"next_step_id": "plain"}
    )
    assert suggested(result) == {"supply": "ac"}


async def test_an_appliance_keeps_its_history_when_it_is_changed(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    entry.runtime_data.async_lift_counter(subentry_id(entry, "Oven"), 5000.0)
    before = set(entity_registry.entities)
    result = await change(
        hass, entry, "Oven", {"name": "Old oven", "kind": "oven", "rated_power": 1900}
    )
    assert result["reason"] == "reconfigure_successful"
    assert set(entity_registry.entities) == before
    assert hass.states.get("sensor.oven_energy").state == "5.0"
    assert boat_from_entry(entry).appliance("Old oven").rated_power_w == 1900
    # The dish that it is for goes along.
    assert boat_from_entry(entry).dishes[0].minutes == {"Old oven": 50}


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        ({"name": "KETTLE", "rated_power": 900}, {"name": "duplicate"}),
        ({"name": " ", "rated_power": 900}, {"name": "out_of_range"}),
        # What the interface fills in by itself is not taken for an answer.
        ({"name": "Hob", "rated_power": 0}, {"rated_power": "out_of_range"}),
        (
            {"name": "Hob", "rated_power": 900, "power_sensor": LOAD},
            {"power_sensor": "duplicate"},
        ),
        (
            {"name": "Hob", "rated_power": 900, "power_sensor": "sensor.nobody"},
            {"power_sensor": "sensor_missing"},
        ),
        (
            {"name": "Hob", "rated_power": 900, "power_sensor": "sensor.humid"},
            {"power_sensor": "no_power_unit"},
        ),
    ],
)
async def test_a_wrong_appliance_is_told_at_the_field(
    hass: HomeAssistant, given: dict[str, Any], errors: dict[str, str]
) -> None:
    set_sensors(hass)
    hass.states.async_set("sensor.humid", "60", {"unit_of_measurement": "%"})
    entry = await start_boat(hass, boat_entry())
    result = await add(hass, entry, "appliance", {"kind": "induction_hob", **given})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"],
        {"name": "Hob", "kind": "induction_hob", "rated_power": 1800},
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_circuit_is_added_changed_and_removed(hass: HomeAssistant) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await add(
        hass,
        entry,
        "circuit",
        {"name": "Galley 2", "breaker_current": 10, "voltage": 120},
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    result = await change(
        hass,
        entry,
        "Galley 1",
        {
            "name": "Port galley",
            "breaker_current": 20,
            "voltage": 120,
            "relay": RELAY,
            "idle_minutes": 15,
            "cut": "ask",
            "other_loads": False,
        },
    )
    assert result["reason"] == "reconfigure_successful"
    boat = boat_from_entry(entry)
    assert boat.appliance("Kettle").circuit == "Port galley"
    assert boat.circuit("Port galley").idle_minutes == 15
    hass.config_entries.async_remove_subentry(entry, subentry_id(entry, "Port galley"))
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(entry).appliance("Kettle").circuit is None


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        ({"name": "Galley 1"}, {"name": "duplicate"}),
        ({"name": "G", "relay": RELAY}, {"relay": "duplicate"}),
        ({"name": "G", "relay": "switch.nobody"}, {"relay": "sensor_missing"}),
        ({"name": "G", "cut": "auto"}, {"relay": "relay_needed"}),
        ({"name": "G", "breaker_current": 0}, {"breaker_current": "out_of_range"}),
    ],
)
async def test_a_wrong_circuit_is_told_at_the_field(
    hass: HomeAssistant, given: dict[str, Any], errors: dict[str, str]
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    plain = {"breaker_current": 10, "voltage": 120}
    result = await add(hass, entry, "circuit", {**plain, **given})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"], {**plain, "name": "Galley 2"}
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_dish_asks_for_the_minutes_of_each_appliance(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    oven, kettle = subentry_id(entry, "Oven"), subentry_id(entry, "Kettle")
    result = await add(
        hass,
        entry,
        "dish",
        {"name": "Pasta bake", "appliances": [oven, kettle], "ready_by": "19:30:00"},
        {"Oven": 35, "Kettle": 6},
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    dish = next(d for d in boat_from_entry(entry).dishes if d.name == "Pasta bake")
    assert dish.minutes == {"Oven": 35, "Kettle": 6}
    assert dish.ready_by.isoformat() == "19:30:00"


async def test_a_dish_can_be_known_by_its_energy(hass: HomeAssistant) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await add(hass, entry, "dish", {"name": "Porridge", "energy": 150})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    dish = next(d for d in boat_from_entry(entry).dishes if d.name == "Porridge")
    assert dish.energy_wh == 150


async def test_a_dish_is_changed_with_its_minutes_suggested(
    hass: HomeAssistant,
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    oven = subentry_id(entry, "Oven")
    result = await change(hass, entry, "Bread")
    assert suggested(result) == {"name": "Bread", "appliances": [oven]}
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"], {"name": "Bread", "appliances": [oven]}
    )
    assert result["step_id"] == "minutes"
    assert suggested(result) == {"Oven": 50}
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"], {"Oven": 40}
    )
    assert result["reason"] == "reconfigure_successful"
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(entry).dishes[0].minutes == {"Oven": 40}


@pytest.mark.parametrize(
    ("given", "errors"),
    [
        ({"name": " ", "energy": 100}, {"name": "out_of_range"}),
        ({"name": "bread", "energy": 100}, {"name": "duplicate"}),
    ],
)
async def test_a_wrong_dish_is_told_at_the_field(
    hass: HomeAssistant, given: dict[str, Any], errors: dict[str, str]
) -> None:
    set_sensors(hass)
    entry = await start_boat(hass, boat_entry())
    result = await add(hass, entry, "dish", given)
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await hass.config_entries.subentries.async_configure(
        result["flow_id"], {"name": "Soup", "energy": 100}
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)
