"""Sensors that were renamed, removed or speak another unit: told, and cured."""

from datetime import timedelta

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.const import DOMAIN
from tests.at_home import (
    KITTIWAKE,
    LOAD,
    RELAY,
    VOLTAGE,
    boat_at_rest,
    later,
    set_sensors,
)
from tests.issue_steps import Fixer, issues

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

LONG = timedelta(minutes=6)


async def pass_time(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, span: timedelta = LONG
) -> None:
    """Let some minutes pass."""
    for _ in range(int(span / timedelta(minutes=1))):
        await later(hass, freezer, 60)


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
    fixer: Fixer,
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
    result = await fixer.fix(
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
    fixer: Fixer,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    solar = {"array_power": 540, "forecast": ["sensor.sun_today"]}
    entry = await boat_at_rest(hass, {**KITTIWAKE, "solar": solar})
    await pass_time(hass, freezer)
    hass.states.async_set("sensor.other_sun_today", "3")
    result = await fixer.fix(
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
    fixer: Fixer,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    hass.states.async_set("sensor.humid", "60", {"unit_of_measurement": "%"})
    await boat_at_rest(hass)
    hass.states.async_remove(LOAD)
    await pass_time(hass, freezer)
    issue = issues(issue_registry)["sensor_missing"]
    result = await fixer.fix(issue, {"replacement": VOLTAGE})
    assert result["errors"] == {"replacement": "duplicate"}
    result = await fixer.fix(issue, {"replacement": "sensor.humid"})
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
    fixer: Fixer,
    issue_registry: ir.IssueRegistry,
    freezer: FrozenDateTimeFactory,
) -> None:
    entry = await boat_at_rest(hass)
    hass.states.async_set(LOAD, "0.15", {"unit_of_measurement": "kW"})
    await pass_time(hass, freezer, timedelta(minutes=1))
    assert hass.states.get("sensor.kittiwake_background_power").state == "150.0"
    issue = issues(issue_registry)["unit_changed"]
    assert issue.translation_placeholders["unit"] == "kW"
    result = await fixer.fix(issue, {})
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
    fixer: Fixer,
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
        result = await fixer.fix(issue)
        assert result["type"] == "create_entry"
