"""A boat at anchor that is asked for advice: its entities, its planned dish, its actions."""

from typing import Any

from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.const import DOMAIN

from .at_home import boat_entry, start_boat
from .galley_day import GalleyDay

DISH = "select.kittiwake_planned_dish"
ADVICE = "sensor.kittiwake_advice"
BEST_START = "sensor.kittiwake_best_start"
SUNRISE = "sensor.kittiwake_charge_at_sunrise"
LOWEST = "sensor.kittiwake_lowest_charge_ahead"
SURPLUS = "sensor.kittiwake_surplus_sun"
CLEAR_SKY_INDEX = "sensor.kittiwake_clear_sky_index"


async def plan(hass: HomeAssistant, option: str) -> None:
    """Choose what is planned."""
    await hass.services.async_call(
        "select", "select_option", {"entity_id": DISH, "option": option}, blocking=True
    )
    await hass.async_block_till_done(wait_background_tasks=True)


async def ask(hass: HomeAssistant, action: str, **data: Any) -> dict[str, Any]:
    """Call one of our actions; return what it answers."""
    answer = await hass.services.async_call(
        DOMAIN, action, data, blocking=True, return_response=True
    )
    assert isinstance(answer, dict)
    return answer


def state(hass: HomeAssistant, entity_id: str) -> str:
    """Return the state of an entity that is there."""
    found = hass.states.get(entity_id)
    assert found is not None, entity_id
    return found.state


async def lying_at_anchor(hass: HomeAssistant, day: GalleyDay) -> MockConfigEntry:
    """Return a boat that has been told of for ten minutes."""
    entry = await start_boat(hass, boat_entry())
    await day.live(600, solar_w=300.0, step_s=60)
    return entry
