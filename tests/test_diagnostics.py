"""What helps to find a fault, without telling where the boat lies."""

import json
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import get_system_health_info
from pytest_homeassistant_custom_component.components.diagnostics import (
    get_diagnostics_for_config_entry,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.galley_loads.const import DOMAIN

from .at_home import KITTIWAKE, LOAD, boat_at_rest, boat_entry, set_sensor, start_boat

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_diagnostics_tell_the_boat_without_names_and_places(
    hass: HomeAssistant, hass_client: ClientSessionGenerator
) -> None:
    entry = await boat_at_rest(hass)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)
    text = json.dumps(found)
    for secret in (
        "Kittiwake",
        "38.53",
        "28.62",
        "Azores",
        "Bread",
        "Oven",
        "Kettle",
        "Galley 1",
    ):
        assert secret not in text, secret
    assert found["boat"]["bank"]["capacity_ah"] == 560
    assert found["view"]["load_w"] == 120
    assert [a["kind"] for a in found["appliances"]] == ["kettle", "oven"]
    assert found["lost"] == []


def _marked(mapping: dict[str, Any]) -> dict[str, Any]:
    """Return a boat in which every name and every entity carries a marked word."""
    meter = "sensor.zyxmark_kettle_plug"
    return {
        **mapping,
        "name": "Zyxmark boat",
        "sensors": {
            key: f"sensor.zyxmark_{key}"
            for key in ("ac_load_power", "solar_power", "battery_power", "battery_soc")
        },
        "solar": {"array_power": 540, "forecast": ["sensor.zyxmark_forecast"]},
        "circuits": [
            {
                "name": "Zyxmark circuit",
                "breaker_current": 15,
                "voltage": 120,
                "relay": "switch.zyxmark_relay",
            }
        ],
        "appliances": [
            {
                "name": "Zyxmark",
                "kind": "kettle",
                "rated_power": 1500,
                "circuit": "Zyxmark circuit",
                "power_sensor": meter,
            },
            {"name": "Second zyxmark", "kind": "oven", "rated_power": 2000},
        ],
        "dishes": [
            {"name": "Zyxmark stew", "appliances": {"Second zyxmark": 50}},
        ],
    }


@pytest.mark.parametrize("state", ["120", "unavailable"])
async def test_no_name_of_the_boats_own_is_in_the_diagnostics(
    hass: HomeAssistant, hass_client: ClientSessionGenerator, state: str
) -> None:
    """Sensors that are away are reported by their role, and in words."""
    mapping = _marked(KITTIWAKE)
    entry = boat_entry(mapping)
    for entity_id in (*mapping["sensors"].values(), "sensor.zyxmark_kettle_plug"):
        hass.states.async_set(entity_id, "120", {"unit_of_measurement": "W"})
    hass.states.async_set(
        "sensor.zyxmark_battery_soc", "80", {"unit_of_measurement": "%"}
    )
    hass.states.async_set("switch.zyxmark_relay", "on")
    await start_boat(hass, entry)
    for entity_id in (
        mapping["sensors"]["ac_load_power"],
        "sensor.zyxmark_kettle_plug",
    ):
        hass.states.async_set(entity_id, state, {"unit_of_measurement": "W"})
    await hass.async_block_till_done(wait_background_tasks=True)
    found: Any = await get_diagnostics_for_config_entry(hass, hass_client, entry)
    assert "zyxmark" not in json.dumps(found).casefold()
    sensors = found["boat"]["sensors"]
    assert sensors["ac_load_power"] == "sensor 1"
    assert (found["lost"] != []) == (state == "unavailable")
    (dish,) = found["boat"]["dishes"]
    assert dish["name"] == "dish 1"


async def test_system_health_counts_boats_and_lost_sensors(
    hass: HomeAssistant,
) -> None:
    assert await async_setup_component(hass, "system_health", {})
    await boat_at_rest(hass)
    set_sensor(hass, LOAD, "unavailable")
    await hass.async_block_till_done(wait_background_tasks=True)
    info = await get_system_health_info(hass, DOMAIN)
    assert info["boats"] == 1
    assert info["appliances"] == 2
    assert info["sensors_lost"] == 1
    assert info["catching_up"] == 0
