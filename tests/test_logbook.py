"""One line in the logbook for each run and meal."""

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.galley_loads.const import EVENT_MEAL_FINISHED, EVENT_RUN_FINISHED

from .at_home import set_sensors

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_runs_and_meals_are_told_in_a_line_each(
    hass: HomeAssistant, hass_ws_client: WebSocketGenerator
) -> None:
    assert await async_setup_component(hass, "logbook", {})
    assert await async_setup_component(hass, "galley_loads", {})
    set_sensors(hass)
    await hass.async_block_till_done()
    start = dt_util.utcnow()
    run = {"appliance": "Kettle", "start_s": 0.0, "energy_wh": 99.6}
    meal = {
        "boat": "Kittiwake",
        "label": "dinner",
        "energy_wh": 600.4,
        "bank_ah": 50.16,
        "entity_id": "sensor.kittiwake_last_meal",
    }
    hass.bus.async_fire(EVENT_RUN_FINISHED, {**run, "end_s": 240.0})
    hass.bus.async_fire(EVENT_RUN_FINISHED, {**run, "end_s": 50.0})
    hass.bus.async_fire(EVENT_MEAL_FINISHED, {**meal, "solar_share": 0.374})
    hass.bus.async_fire(EVENT_MEAL_FINISHED, {**meal, "solar_share": None})
    await async_wait_recording_done(hass)
    client = await hass_ws_client(hass)
    await client.send_json_auto_id(
        {"type": "logbook/get_events", "start_time": start.isoformat()}
    )
    answer = await client.receive_json()
    assert answer["success"]
    lines = [line for line in answer["result"] if line.get("domain") == "galley_loads"]
    assert [(line["name"], line["message"]) for line in lines] == [
        ("Kettle", "ran for 4 minutes and took 100 Wh"),
        ("Kettle", "ran for a minute and took 100 Wh"),
        (
            "Kittiwake",
            "finished dinner: 600 Wh, 50.2 Ah at the bank, 37 % from the sun",
        ),
        ("Kittiwake", "finished dinner: 600 Wh, 50.2 Ah at the bank"),
    ]
    assert lines[2]["entity_id"] == "sensor.kittiwake_last_meal"
