"""Meals in a boat's book, and the actions on it: what the tests of the book share."""

from datetime import UTC, datetime
import json
from typing import Any

from homeassistant.core import HomeAssistant

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.meals.meal_builder import Meal

from .core.meals.meals_made import made_meal, made_run

# Boat time is UTC-1 in winter and UTC in summer.
LUNCH = datetime(2026, 5, 12, 12, tzinfo=UTC).timestamp()
DINNER = datetime(2026, 5, 12, 19, tzinfo=UTC).timestamp()
LATER = datetime(2026, 6, 2, 19, tzinfo=UTC).timestamp()

LUNCH_ID, DINNER_ID, LATER_ID = (
    "20260512T120000Z",
    "20260512T190000Z",
    "20260602T190000Z",
)


def lunch() -> Meal:
    """Return a kettle at noon."""
    return made_meal(made_run("Kettle", LUNCH, 4, 100), label="lunch")


def dinner() -> Meal:
    """Return a kettle and an oven in the evening."""
    return made_meal(
        made_run("Kettle", DINNER, 4, 100), made_run("Oven", DINNER + 600, 40, 660)
    )


async def act(hass: HomeAssistant, action: str, **data: Any) -> dict[str, Any]:
    """Call one of our actions; return what it answers, as JSON has it."""
    response = await hass.services.async_call(
        DOMAIN, action, data, blocking=True, return_response=True
    )
    assert response is not None
    # A response has to be fit for JSON.
    return json.loads(json.dumps(response))
