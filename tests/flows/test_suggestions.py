"""What the energy dashboard knows already is suggested."""

from unittest.mock import patch

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.const import DOMAIN
from tests.at_home import SOC, SOLAR, set_sensors
from tests.flow_steps import (
    ARRAY,
    BANK,
    BOAT,
    INVERTER,
    SENSORS,
    answer,
    begin,
    set_energy_preferences,
    suggested,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


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


async def test_an_energy_dashboard_never_set_up_suggests_what_is_assumed_anyway(
    hass: HomeAssistant,
) -> None:
    assert await async_setup_component(hass, "energy", {})
    result = await begin(hass, "sensors")
    assert suggested(result) == {"battery_power_positive": "charging"}


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
