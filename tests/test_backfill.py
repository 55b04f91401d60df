"""The recorder's past becomes meals, learnt powers and statistics."""

import time

from homeassistant.core import HomeAssistant
import pytest

from custom_components.galley_loads.boat_entry import boat_from_entry
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled
from custom_components.galley_loads.core.meal_book import MealFilter, MealRecord

from .at_home import boat_entry, start_boat
from .past import DINNER_WH, HOUR, changes, dinner, record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def meals_of(entry) -> list[MealRecord]:
    return [meal async for meal in entry.runtime_data.meals.async_meals(MealFilter())]


async def test_the_past_gives_the_meals_that_the_engine_finds_live(
    hass: HomeAssistant,
) -> None:
    start_s = time.time() - 30 * HOUR
    readings = changes([*dinner(start_s), *dinner(start_s + 24 * HOUR)])
    await record(hass, readings)
    entry = await start_boat(hass, boat_entry())
    events = run_through(Engine(boat_from_entry(entry)), readings)
    expected = [event.meal for event in events if isinstance(event, MealSettled)]
    found = await meals_of(entry)
    assert len(found) == 2
    assert [record.meal for record in found] == expected
    assert found[0].meal.energy_wh == pytest.approx(DINNER_WH, rel=0.02)
