"""Two dinners in the recorder before the boat is set up, and what was made of them."""

from datetime import timedelta
import time
from typing import Any

from homeassistant.components.recorder.statistics import statistics_during_period
from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.metering.reading import Reading

from .dinner import HOUR, changes, dinner

GALLEY = "sensor.kittiwake_galley_energy"
KETTLE = "sensor.kettle_energy"
OVEN = "sensor.oven_energy"
PROGRESS = "sensor.kittiwake_past_read"


def two_dinners() -> list[Reading]:
    """Return what was recorded yesterday and the day before."""
    start_s = time.time() // HOUR * HOUR - 30 * HOUR
    return changes([*dinner(start_s), *dinner(start_s + 24 * HOUR)])


async def meals(hass: HomeAssistant) -> list[dict[str, Any]]:
    """Return the meals of the book, with their runs."""
    response = await act(hass, "list_meals", runs=True)
    assert response is not None
    return response["meals"]


async def act(hass: HomeAssistant, action: str, **data: Any) -> dict[str, Any] | None:
    """Call one of our actions and wait for all that it begins."""
    returns = action not in ("backfill", "stop_backfill")
    response = await hass.services.async_call(
        DOMAIN, action, data, blocking=True, return_response=returns
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    return response


async def hourly(hass: HomeAssistant, entity_id: str) -> list[dict[str, Any]]:
    """Return the hourly statistics of a counter, in kWh."""
    await async_wait_recording_done(hass)
    found = await get_instance(hass).async_add_executor_job(
        statistics_during_period,
        hass,
        dt_util.utcnow() - timedelta(days=60),
        None,
        {entity_id},
        "hour",
        None,
        {"change", "state", "sum"},
    )
    return [dict(row) for row in found.get(entity_id, [])]
