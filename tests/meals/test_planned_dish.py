"""A planned dish that was cooked: expected against taken, over restarts."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.galley_loads.const import DOMAIN, EVENT_MEAL_FINISHED
from tests.advised import ask, plan
from tests.at_home import boat_entry, start_boat
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures(
    "recorder_mock", "enable_custom_integrations", "all_enabled"
)

AGAINST = "sensor.kittiwake_last_dish_against_plan"
MEAL = "event.kittiwake_meal"


async def test_a_planned_dish_is_told_against_what_was_expected(
    hass: HomeAssistant, day: GalleyDay, hass_storage: dict[str, Any]
) -> None:
    told = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    assert hass.states.get(AGAINST).state == "unknown"
    await plan(hass, "Bread")
    expected = (await ask(hass, "advise", dish="Bread"))["dish_wh"]
    await day.bake()
    # The plan for tomorrow, and a restart, come before the meal is settled.
    await plan(hass, "nothing_planned")
    assert await hass.config_entries.async_unload(entry.entry_id)
    await start_boat(hass, entry)
    await day.live(6000, 120, step_s=60)
    shown = hass.states.get(AGAINST)
    taken = shown.attributes["taken_wh"]
    assert taken == pytest.approx(500, rel=0.02)
    assert shown.attributes["dish"] == "Bread"
    assert shown.attributes["expected_wh"] == pytest.approx(expected, abs=0.1)
    assert float(shown.state) == pytest.approx(100 * (taken / expected - 1), abs=0.1)
    event = hass.states.get(MEAL).attributes
    assert event["dish"] == "Bread"
    assert event["expected_wh"] == shown.attributes["expected_wh"]
    assert event["difference_wh"] == shown.attributes["difference_wh"]
    assert event["difference_wh"] == pytest.approx(
        event["energy_wh"] - event["expected_wh"], abs=0.11
    )
    assert [one.data["dish"] for one in told] == ["Bread"]
    assert told[0].data["difference_wh"] == pytest.approx(taken - expected, abs=0.2)
    # It stays after another restart, until the next planned dish.
    await hass.config_entries.async_reload(entry.entry_id)
    await day.live(60)
    assert hass.states.get(AGAINST).state == shown.state
    assert hass.states.get(AGAINST).attributes == shown.attributes
    # And goes with the boat.
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert f"{DOMAIN}.{entry.entry_id}.expected" not in hass_storage


async def test_a_dish_that_is_planned_while_it_cooks_was_not_expected(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(120, 2120)
    await plan(hass, "Bread")
    await day.bake()
    await day.live(6000, 120, step_s=60)
    assert hass.states.get(MEAL).attributes["event_type"] == "finished"
    assert "dish" not in hass.states.get(MEAL).attributes
    assert hass.states.get(AGAINST).state == "unknown"


async def test_a_cup_of_tea_before_the_plan_does_not_hide_it(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(240, 1620)
    await day.live(300, 120)
    await plan(hass, "Bread")
    await day.bake()
    planned = entry.runtime_data.expected.meals.snapshot()["begun"][-1][1]
    # What the alert says of it: at the bank, conversion loss included.
    assert planned[3] > planned[2] / 13.1
    await day.live(6000, 120, step_s=60)
    # The tea is part of the meal, and so of what it took.
    taken = hass.states.get(AGAINST).attributes["taken_wh"]
    assert taken == pytest.approx(600, rel=0.02)


async def test_a_kept_plan_that_cannot_be_read_is_said_and_left(
    hass: HomeAssistant,
    day: GalleyDay,
    hass_storage: dict[str, Any],
    caplog: pytest.LogCaptureFixture,
) -> None:
    entry = boat_entry()
    key = f"{DOMAIN}.{entry.entry_id}.expected"
    hass_storage[key] = {"version": 1, "key": key, "data": {"begun": 7}}
    await start_boat(hass, entry)
    await day.live(60)
    assert "what meals were expected to take cannot be read" in caplog.text
    assert hass.states.get(AGAINST).state == "unknown"
