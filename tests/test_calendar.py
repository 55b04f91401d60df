"""The calendar of meals, as the platform's calendar page asks for it."""

from datetime import UTC, datetime
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.recorder import Recorder
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from .at_home import LOAD, boat_at_rest, set_sensor, settle
from .book_at_home import DINNER, DINNER_ID, act, lunch
from .core.meals.meals_made import made_meal, made_run

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

CALENDAR = "calendar.kittiwake_meals"


@pytest.fixture
async def boat(
    recorder_mock: Recorder,
    enable_custom_integrations: None,
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
) -> MockConfigEntry:
    """A boat in the evening of a day with two meals."""
    freezer.move_to(datetime(2026, 5, 12, 22, tzinfo=UTC))
    entry = await boat_at_rest(hass)
    book = entry.runtime_data.meals
    await book.async_file_live(lunch())
    await book.async_file_live(
        made_meal(made_run("Oven", DINNER, 40, 660), sun_known=False)
    )
    return entry


async def events(hass: HomeAssistant, start: str, end: str) -> list[dict[str, Any]]:
    found = await hass.services.async_call(
        "calendar",
        "get_events",
        {"entity_id": CALENDAR, "start_date_time": start, "end_date_time": end},
        blocking=True,
        return_response=True,
    )
    assert found is not None
    return found[CALENDAR]["events"]


@pytest.mark.usefixtures("boat")
async def test_meals_are_events(hass: HomeAssistant) -> None:
    found = await events(hass, "2026-05-12T00:00:00Z", "2026-05-13T00:00:00Z")
    assert [event["summary"] for event in found] == ["Lunch", "Dinner"]
    assert dt_util.parse_datetime(found[1]["start"]).timestamp() == DINNER
    assert dt_util.parse_datetime(found[1]["end"]).timestamp() == DINNER + 2400
    assert found[0]["description"] == (
        "Kettle\n100 Wh, 9.1 Ah at the bank\n50 % from the sun"
    )
    assert found[1]["description"] == "Oven\n660 Wh, 60.0 Ah at the bank"


@pytest.mark.usefixtures("boat")
async def test_a_meal_that_reaches_into_the_span_is_shown(hass: HomeAssistant) -> None:
    found = await events(hass, "2026-05-12T19:20:00Z", "2026-05-12T19:30:00Z")
    assert [event["summary"] for event in found] == ["Dinner"]
    assert await events(hass, "2026-05-12T19:40:00Z", "2026-05-12T20:00:00Z") == []


@pytest.mark.usefixtures("boat")
async def test_the_crews_words_are_in_the_calendar(hass: HomeAssistant) -> None:
    assert hass.states.get(CALENDAR).attributes["message"] == "Dinner"
    await act(hass, "label_meal", meal=DINNER_ID, label="feast", dish="Bread")
    assert hass.states.get(CALENDAR).attributes["message"] == "Feast: Bread"


async def test_an_empty_book_is_an_empty_calendar(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    assert hass.states.get(CALENDAR).state == "off"
    assert await events(hass, "2026-05-12T00:00:00Z", "2026-05-13T00:00:00Z") == []


async def test_the_calendar_is_on_while_a_meal_is_cooked(
    hass: HomeAssistant, boat: MockConfigEntry, freezer: FrozenDateTimeFactory
) -> None:
    assert hass.states.get(CALENDAR).state == "off"
    written = hass.states.get(CALENDAR).last_updated
    for second in range(0, 600, 10):
        freezer.tick(10)
        set_sensor(hass, LOAD, 2120.0 if second >= 60 else 120.0 + second % 20)
        await settle(hass)
    state = hass.states.get(CALENDAR)
    assert state.state == "on"
    assert state.last_updated > written
    assert "Oven" in state.attributes["description"]
