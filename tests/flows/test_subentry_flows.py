"""Adding and changing appliances, circuits and dishes."""

from types import MappingProxyType
from typing import Any

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.coordinator import GalleyCoordinator
from tests.at_home import (
    LOAD,
    RELAY,
    boat_at_rest,
    boat_entry,
    set_sensors,
    subentry_id,
)
from tests.flow_steps import (
    add,
    answer_part,
    change,
    gaps,
    set_energy_preferences,
    suggested,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_an_appliance_is_added_with_all_its_fields(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "kW"})
    entry = await boat_at_rest(hass)
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
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "W"})
    entry = await boat_at_rest(hass)
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
    result = await answer_part(hass, result, {"next_step_id": "metered"})
    options = result["data_schema"].schema["meter"].config["options"]
    assert [(one["value"], one["label"]) for one in options] == [
        ("sensor.plug", "plug")
    ]
    result = await answer_part(hass, result, {"meter": "sensor.plug"})
    assert suggested(result) == {
        "name": "plug",
        "power_sensor": "sensor.plug",
        "supply": "ac",
    }
    result = await answer_part(
        hass,
        result,
        {
            "name": "Rice cooker",
            "kind": "rice_cooker",
            "rated_power": 500,
            "power_sensor": "sensor.plug",
        },
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    # It is taken now, so nothing is left to offer.
    result = await add(hass, entry, "appliance")
    assert result["type"] is FlowResultType.FORM


async def test_an_offered_device_can_be_declined(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "W"})
    entry = await boat_at_rest(hass)
    await set_energy_preferences(
        hass,
        {
            "device_consumption": [
                {"stat_consumption": "sensor.e1", "stat_rate": "sensor.plug"}
            ]
        },
    )
    result = await add(hass, entry, "appliance")
    result = await answer_part(hass, result, {"next_step_id": "plain"})
    assert suggested(result) == {"supply": "ac"}
    # A list would show its first kind, a number 0: easily overlooked.
    assert gaps(result) == {"name", "kind", "rated_power"}


async def test_an_appliance_keeps_its_history_when_it_is_changed(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    entry = await boat_at_rest(hass)
    entry.runtime_data.coordinator.async_lift_counter(
        subentry_id(entry, "Oven"), 5000.0
    )
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
    hass.states.async_set("sensor.humid", "60", {"unit_of_measurement": "%"})
    entry = await boat_at_rest(hass)
    result = await add(hass, entry, "appliance", {"kind": "induction_hob", **given})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await answer_part(
        hass,
        result,
        {"name": "Hob", "kind": "induction_hob", "rated_power": 1800},
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY


@pytest.mark.parametrize(
    ("name", "holds"),
    [
        ("Oven", {"supply": "ac"}),
        ("Galley 1", {"idle_minutes": 10, "cut": "never", "other_loads": False}),
    ],
)
async def test_the_forms_show_what_holds_where_nothing_was_said(
    hass: HomeAssistant, name: str, holds: dict[str, Any]
) -> None:
    entry = await boat_at_rest(hass)
    before = boat_from_entry(entry)
    result = await change(hass, entry, name)
    given = suggested(result)
    assert given | holds == given
    await answer_part(hass, result, given)
    assert boat_from_entry(entry) == before


async def test_a_circuit_is_added_changed_and_removed(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
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
    entry = await boat_at_rest(hass)
    plain = {"breaker_current": 10, "voltage": 120}
    result = await add(hass, entry, "circuit", {**plain, **given})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await answer_part(hass, result, {**plain, "name": "Galley 2"})
    assert result["type"] is FlowResultType.CREATE_ENTRY


async def test_a_dish_asks_for_the_minutes_of_each_appliance(
    hass: HomeAssistant,
) -> None:
    entry = await boat_at_rest(hass)
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
    entry = await boat_at_rest(hass)
    result = await add(hass, entry, "dish", {"name": "Porridge", "energy": 150})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    dish = next(d for d in boat_from_entry(entry).dishes if d.name == "Porridge")
    assert dish.energy_wh == 150


async def test_a_dish_is_changed_with_its_minutes_suggested(
    hass: HomeAssistant,
) -> None:
    entry = await boat_at_rest(hass)
    oven = subentry_id(entry, "Oven")
    result = await change(hass, entry, "Bread")
    assert suggested(result) == {"name": "Bread", "appliances": [oven]}
    result = await answer_part(hass, result, {"name": "Bread", "appliances": [oven]})
    assert result["step_id"] == "minutes"
    assert suggested(result) == {"Oven": 50}
    result = await answer_part(hass, result, {"Oven": 1500})
    assert result["errors"] == {"Oven": "out_of_range"}
    problem = result["description_placeholders"]["problem"]
    assert problem == "1500 is not a number above 0, at most 1440 minutes"
    result = await answer_part(hass, result, {"Oven": 40})
    assert result["reason"] == "reconfigure_successful"
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
    entry = await boat_at_rest(hass)
    result = await add(hass, entry, "dish", given)
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    result = await answer_part(hass, result, {"name": "Soup", "energy": 100})
    assert result["type"] is FlowResultType.CREATE_ENTRY


async def test_an_appliance_that_is_added_while_the_boat_is_set_up_is_aboard(
    hass: HomeAssistant, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_sensors(hass)
    toaster = ConfigSubentry(
        data=MappingProxyType(
            {"name": "Toaster", "kind": "toaster", "rated_power": 900, "supply": "ac"}
        ),
        subentry_type="appliance",
        title="Toaster",
        unique_id="appliance toaster",
    )
    start = GalleyCoordinator.async_start

    async def added_meanwhile(coordinator: GalleyCoordinator) -> None:
        if toaster.subentry_id not in entry.subentries:
            hass.config_entries.async_add_subentry(entry, toaster)
        await start(coordinator)

    monkeypatch.setattr(GalleyCoordinator, "async_start", added_meanwhile)
    entry = boat_entry()
    entry.add_to_hass(hass)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert hass.states.get("sensor.toaster_power") is not None
