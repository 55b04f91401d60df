"""Sensors that were renamed, removed or speak another unit: told, and cured."""

from datetime import timedelta
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.repairs import DOMAIN as REPAIRS_DOMAIN
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.galley_loads.boat_entry import boat_from_entry
from custom_components.galley_loads.const import DOMAIN

from .at_home import KITTIWAKE, LOAD, RELAY, VOLTAGE, boat_at_rest, set_sensors

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

LONG = timedelta(minutes=6)


def issues(issue_registry: ir.IssueRegistry) -> dict[str, ir.IssueEntry]:
    """Return the issues about our boats by their translation key."""
    return {
        str(issue.translation_key): issue
        for issue in issue_registry.issues.values()
        if issue.domain == DOMAIN
    }


async def pass_time(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, span: timedelta = LONG
) -> None:
    """Let some minutes pass."""
    for _ in range(int(span / timedelta(minutes=1))):
        freezer.tick(60)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()


async def fix(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    issue: ir.IssueEntry,
    *answers: dict[str, Any],
) -> dict[str, Any]:
    """Go through the fix of an issue like the interface does."""
    assert await async_setup_component(hass, REPAIRS_DOMAIN, {})
    client = await hass_client()
    response = await client.post(
        "/api/repairs/issues/fix",
        json={"handler": issue.domain, "issue_id": issue.issue_id},
    )
    assert response.status == 200, await response.text()
    result: dict[str, Any] = await response.json()
    for answer in answers:
        assert result["type"] == "form", result
        response = await client.post(
            f"/api/repairs/issues/fix/{result['flow_id']}", json=answer
        )
        assert response.status == 200, await response.text()
        result = await response.json()
    await hass.async_block_till_done(wait_background_tasks=True)
    return result


async def test_a_renamed_sensor_is_followed(
    hass: HomeAssistant,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:
    registered = entity_registry.async_get_or_create(
        "sensor", "inverter", "1", suggested_object_id="inverter_output"
    )
    assert registered.entity_id == LOAD
    entry = await boat_at_rest(hass)
    entity_registry.async_update_entity(LOAD, new_entity_id="sensor.galley_feed")
    hass.states.async_remove(LOAD)
    hass.states.async_set("sensor.galley_feed", "140", {"unit_of_measurement": "W"})
    await hass.async_block_till_done(wait_background_tasks=True)
    assert boat_from_entry(entry).sensors.ac_load_power.entity_id == (
        "sensor.galley_feed"
    )
    assert hass.states.get("sensor.kittiwake_background_power").state == "140.0"
    assert not issues(issue_registry)


async def test_a_renamed_meter_and_relay_are_followed(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    for domain, object_id in (("sensor", "oven_plug"), ("switch", "galley_breaker")):
        entity_registry.async_get_or_create(
            domain, "plugs", object_id, suggested_object_id=object_id
        )
    hass.states.async_set("sensor.oven_plug", "0.1", {"unit_of_measurement": "kW"})
    oven = {
        **KITTIWAKE["appliances"][1],
        "power_sensor": {"entity": "sensor.oven_plug", "unit": "kW", "reversed": True},
    }
    entry = await boat_at_rest(hass, {**KITTIWAKE, "appliances": [oven], "dishes": []})
    entity_registry.async_update_entity(
        "sensor.oven_plug", new_entity_id="sensor.oven_meter"
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    entity_registry.async_update_entity(RELAY, new_entity_id="switch.port")
    await hass.async_block_till_done(wait_background_tasks=True)
    boat = boat_from_entry(entry)
    assert boat.appliance("Oven").power_sensor.entity_id == "sensor.oven_meter"
    assert boat.appliance("Oven").power_sensor.scale == -1000
    assert boat.circuits[0].relay == "switch.port"


async def test_a_renamed_forecast_and_position_are_followed(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    for domain, object_id in (("sensor", "sun_today"), ("device_tracker", "gps")):
        entity_registry.async_get_or_create(
            domain, "outside", object_id, suggested_object_id=object_id
        )
    entry = await boat_at_rest(
        hass,
        {
            **KITTIWAKE,
            "sensors": {**KITTIWAKE["sensors"], "position": "device_tracker.gps"},
            "solar": {"array_power": 540, "forecast": ["sensor.sun_today"]},
        },
    )
    entity_registry.async_update_entity(
        "sensor.sun_today", new_entity_id="sensor.sun_outlook"
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    entity_registry.async_update_entity(
        "device_tracker.gps", new_entity_id="device_tracker.boat"
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    boat = boat_from_entry(entry)
    assert boat.solar is not None
    assert boat.solar.forecast == ("sensor.sun_outlook",)
    assert boat.sensors.position == "device_tracker.boat"


async def test_a_removed_sensor_is_told_and_replaced(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:
    entity_registry.async_get_or_create(
        "sensor", "inverter", "1", suggested_object_id="inverter_output"
    )
    hass.states.async_set("sensor.new_meter", "0.2", {"unit_of_measurement": "kW"})
    # The lost meter counted backwards; nobody knows that of the new one.
    backwards = {"ac_load_power": {"entity": LOAD, "reversed": True}}
    entry = await boat_at_rest(
        hass, {**KITTIWAKE, "sensors": {**KITTIWAKE["sensors"], **backwards}}
    )
    hass.states.async_remove(LOAD)
    entity_registry.async_remove(LOAD)
    await hass.async_block_till_done()
    issue = issues(issue_registry)["sensor_missing"]
    assert issue.translation_placeholders["entity_id"] == LOAD
    assert issue.is_fixable
    result = await fix(
        hass,
        hass_client,
        issue,
        {"replacement": VOLTAGE},
        {"replacement": "sensor.nobody"},
        {"replacement": "sensor.new_meter"},
    )
    assert result["type"] == "create_entry"
    sensor = boat_from_entry(entry).sensors.ac_load_power
    assert (sensor.entity_id, sensor.scale) == ("sensor.new_meter", 1000)
    assert hass.states.get("sensor.kittiwake_background_power").state == "200.0"
    assert not issues(issue_registry)


async def test_a_lost_forecast_is_told_and_replaced(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    solar = {"array_power": 540, "forecast": ["sensor.sun_today"]}
    entry = await boat_at_rest(hass, {**KITTIWAKE, "solar": solar})
    await pass_time(hass, freezer)
    hass.states.async_set("sensor.other_sun_today", "3")
    result = await fix(
        hass,
        hass_client,
        issues(issue_registry)["sensor_missing"],
        {"replacement": "sensor.other_sun_today"},
    )
    assert result["type"] == "create_entry"
    boat = boat_from_entry(entry)
    assert boat.solar is not None
    assert boat.solar.forecast == ("sensor.other_sun_today",)
    assert not issues(issue_registry)


async def test_a_replacement_is_refused_with_its_reason(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    hass.states.async_set("sensor.humid", "60", {"unit_of_measurement": "%"})
    await boat_at_rest(hass)
    hass.states.async_remove(LOAD)
    await pass_time(hass, freezer)
    issue = issues(issue_registry)["sensor_missing"]
    result = await fix(hass, hass_client, issue, {"replacement": VOLTAGE})
    assert result["errors"] == {"replacement": "duplicate"}
    result = await fix(hass, hass_client, issue, {"replacement": "sensor.humid"})
    assert result["errors"] == {"replacement": "no_power_unit"}


async def test_a_sensor_that_is_away_for_a_moment_is_not_missed(
    hass: HomeAssistant,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    await boat_at_rest(hass)
    hass.states.async_remove(LOAD)
    await pass_time(hass, freezer, timedelta(minutes=3))
    assert not issues(issue_registry)
    await pass_time(hass, freezer)
    assert set(issues(issue_registry)) == {"sensor_missing"}
    # And the notice goes when the sensor is back.
    set_sensors(hass)
    await pass_time(hass, freezer, timedelta(minutes=1))
    assert not issues(issue_registry)


async def test_a_disabled_sensor_is_missed(
    hass: HomeAssistant,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    entity_registry.async_get_or_create(
        "sensor", "inverter", "1", suggested_object_id="inverter_output"
    )
    await boat_at_rest(hass)
    entity_registry.async_update_entity(LOAD, disabled_by=er.RegistryEntryDisabler.USER)
    hass.states.async_remove(LOAD)
    await pass_time(hass, freezer)
    assert set(issues(issue_registry)) == {"sensor_missing"}


async def test_a_changed_unit_is_converted_told_and_noted(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    entry = await boat_at_rest(hass)
    hass.states.async_set(LOAD, "0.15", {"unit_of_measurement": "kW"})
    await pass_time(hass, freezer, timedelta(minutes=1))
    assert hass.states.get("sensor.kittiwake_background_power").state == "150.0"
    issue = issues(issue_registry)["unit_changed"]
    assert issue.translation_placeholders["unit"] == "kW"
    result = await fix(hass, hass_client, issue, {})
    assert result["type"] == "create_entry"
    assert boat_from_entry(entry).sensors.ac_load_power.scale == 1000
    assert hass.states.get("sensor.kittiwake_background_power").state == "150.0"
    assert not issues(issue_registry)


async def test_a_unit_that_makes_no_sense_is_told_and_not_used(
    hass: HomeAssistant,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    await boat_at_rest(hass)
    hass.states.async_set(LOAD, "21", {"unit_of_measurement": "°C"})
    await pass_time(hass, freezer, timedelta(minutes=1))
    assert hass.states.get("sensor.kittiwake_background_power").state == "unavailable"
    issue = issues(issue_registry)["unit_unfit"]
    assert not issue.is_fixable
    set_sensors(hass, 130)
    await pass_time(hass, freezer, timedelta(minutes=1))
    assert not issues(issue_registry)
    assert hass.states.get("sensor.kittiwake_background_power").state == "130.0"


async def test_issues_go_with_the_boat(
    hass: HomeAssistant,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    entry = await boat_at_rest(hass)
    hass.states.async_remove(LOAD)
    await pass_time(hass, freezer)
    assert issues(issue_registry)
    await hass.config_entries.async_remove(entry.entry_id)
    assert not issues(issue_registry)


@pytest.mark.parametrize("kind", ["sensor_missing", "unit_changed"])
async def test_a_fix_that_comes_too_late_does_no_harm(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    issue_registry: ir.IssueRegistry,
    kind: str,
) -> None:
    entry: MockConfigEntry = await boat_at_rest(hass)
    for number, (entry_id, entity_id) in enumerate(
        [(entry.entry_id, "sensor.no_longer_read"), ("gone", LOAD)]
    ):
        ir.async_create_issue(
            hass,
            DOMAIN,
            f"{kind}_{number}",
            data={"entry_id": entry_id, "entity_id": entity_id},
            is_fixable=True,
            severity=ir.IssueSeverity.WARNING,
            translation_key=kind,
        )
        issue = issue_registry.async_get_issue(DOMAIN, f"{kind}_{number}")
        assert issue is not None
        result = await fix(hass, hass_client, issue)
        assert result["type"] == "create_entry"
