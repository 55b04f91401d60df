"""A boat is set up, unloaded, changed and removed."""

from typing import Any

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
import pytest

from custom_components.galley_loads.boat.boat_entry import (
    boat_from_entry,
    mapping_from_entry,
)
from custom_components.galley_loads.const import DOMAIN

from .at_home import KITTIWAKE, LOAD, boat_at_rest, boat_entry, start_boat, subentry_id

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_a_boat_shows_what_it_draws(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    assert entry.state is ConfigEntryState.LOADED
    assert hass.states.get("sensor.kittiwake_background_power").state == "120.0"
    assert hass.states.get("sensor.kittiwake_galley_power").state == "0.0"
    assert hass.states.get("binary_sensor.kittiwake_cooking").state == "off"
    assert hass.states.get("sensor.kettle_state").state == "off"


async def test_a_boat_and_each_appliance_is_a_device(
    hass: HomeAssistant, device_registry: dr.DeviceRegistry
) -> None:
    entry = await boat_at_rest(hass)
    boat = device_registry.async_get_device_by_identifier(
        (DOMAIN, entry.entry_id), entry.entry_id
    )
    oven = device_registry.async_get_device_by_identifier(
        (DOMAIN, subentry_id(entry, "Oven")), entry.entry_id
    )
    assert boat is not None
    assert oven is not None
    assert boat.name == "Kittiwake"
    assert oven.via_device_id == boat.id
    assert oven.model == "Oven"
    assert oven.config_subentry_id == subentry_id(entry, "Oven")


async def test_a_meter_that_counts_backwards_is_read_the_right_way_round(
    hass: HomeAssistant,
) -> None:
    sensors = {
        **KITTIWAKE["sensors"],
        "ac_load_power": {"entity": LOAD, "reversed": True},
    }
    kettle = {**KITTIWAKE["appliances"][0]}
    kettle["power_sensor"] = {"entity": "sensor.plug", "unit": "kW", "reversed": True}
    hass.states.async_set("sensor.plug", "-0.1", {"unit_of_measurement": "kW"})
    entry = await boat_at_rest(
        hass,
        {**KITTIWAKE, "sensors": sensors, "appliances": [kettle], "dishes": []},
        load_w=-120,
    )
    sample = entry.runtime_data.coordinator._engine.last_sample
    assert sample.load_w == 120.0
    assert sample.metered_w == (("Kettle", 100.0),)
    # And the boat is written as it was read.
    mapping = mapping_from_entry(entry)
    assert mapping["sensors"] == sensors
    assert mapping["appliances"] == [kettle]


async def test_unloading_leaves_nothing_running(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    assert await hass.config_entries.async_unload(entry.entry_id)
    assert entry.state is ConfigEntryState.NOT_LOADED
    assert hass.states.get("sensor.kittiwake_galley_power").state == "unavailable"


async def test_removing_a_boat_removes_what_was_stored(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    entry = await boat_at_rest(hass)
    await hass.config_entries.async_unload(entry.entry_id)
    assert f"{DOMAIN}.{entry.entry_id}" in hass_storage
    await hass.config_entries.async_remove(entry.entry_id)
    assert f"{DOMAIN}.{entry.entry_id}" not in hass_storage


async def test_two_boats_live_side_by_side(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.other_load", "300", {"unit_of_measurement": "W"})
    await boat_at_rest(hass)
    other = {
        **KITTIWAKE,
        "name": "Fulmar",
        "sensors": {"ac_load_power": "sensor.other_load"},
        "circuits": [],
        "appliances": [{"name": "Hob", "kind": "induction_hob", "rated_power": 1800}],
        "dishes": [],
    }
    await start_boat(hass, boat_entry(other))
    assert hass.states.get("sensor.kittiwake_background_power").state == "120.0"
    assert hass.states.get("sensor.fulmar_background_power").state == "300.0"


async def test_an_entry_that_is_no_boat_says_why(
    hass: HomeAssistant, caplog: pytest.LogCaptureFixture
) -> None:
    entry = boat_entry({**KITTIWAKE, "bank": {"capacity_ah": -5}})
    entry.add_to_hass(hass)
    assert not await hass.config_entries.async_setup(entry.entry_id)
    assert entry.state is ConfigEntryState.SETUP_ERROR
    assert "bank.capacity_ah" in caplog.text


async def test_a_removed_appliance_takes_its_device_along(
    hass: HomeAssistant,
    device_registry: dr.DeviceRegistry,
    entity_registry: er.EntityRegistry,
) -> None:
    entry = await boat_at_rest(hass)
    oven_id = subentry_id(entry, "Oven")
    hass.config_entries.async_remove_subentry(entry, oven_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert not device_registry.async_get_device_by_identifier(
        (DOMAIN, oven_id), entry.entry_id
    )
    assert entity_registry.async_get("sensor.oven_power") is None
    assert hass.states.get("sensor.kettle_power").state == "0.0"
    # A dish that was cooked with it goes on by its name.
    (bread,) = boat_from_entry(entry).dishes
    assert (bread.name, bread.minutes) == ("Bread", {})


async def test_an_appliance_added_later_gets_its_entities(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass, {**KITTIWAKE, "dishes": []})
    result = await hass.config_entries.subentries.async_init(
        (entry.entry_id, "appliance"), context={"source": "user"}
    )
    await hass.config_entries.subentries.async_configure(
        result["flow_id"],
        {"name": "Rice cooker", "kind": "rice_cooker", "rated_power": 500},
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert hass.states.get("sensor.rice_cooker_power").state == "0.0"
