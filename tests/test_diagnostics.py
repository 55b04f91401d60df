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

from .at_home import LOAD, boat_at_rest, set_sensor

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
