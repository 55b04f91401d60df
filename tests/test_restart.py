"""Restarts, power cuts and lost files: the meal goes on, no counter falls."""

from copy import deepcopy
import json
import time
from typing import Any
from unittest.mock import patch

from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import (
    Event,
    EventStateChangedData,
    HomeAssistant,
    State,
    callback,
)
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_track_state_change_event
import pytest
from pytest_homeassistant_custom_component.common import (
    async_capture_events,
    mock_restore_cache_with_extra_data,
)
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.galley_loads.boat.boat_entry import mapping_from_entry
from custom_components.galley_loads.const import (
    DOMAIN,
    EVENT_MEAL_FINISHED,
    EVENT_RUN_FINISHED,
)
from custom_components.galley_loads.core.events import MealSettled

from .at_home import boat_entry, start_boat, subentry_id
from .cooking import END_S, ENERGIES, DinnerAboard, brief, energy_wh, from_engine
from .core.meals.meals_made import made_meal, made_run
from .dinner import HOUR

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_a_restart_in_the_middle_changes_nothing(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await dinner.begin(1200)
    assert await hass.config_entries.async_unload(entry.entry_id)
    await start_boat(hass, entry)
    assert hass.states.get("binary_sensor.kittiwake_cooking").state == "on"
    await dinner.cook(END_S, 1220)
    await dinner.rest(END_S, 5400)
    expected_runs, expected_meals = from_engine(entry, dinner.readings)
    assert [brief(run) for run in runs] == [brief(run) for run in expected_runs]
    assert len(meals) == len(expected_meals) == 1


async def test_no_counter_ever_falls_through_restarts(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    shown: dict[str, list[float]] = {entity_id: [] for entity_id in ENERGIES}
    ahead: list[tuple[str, float, float]] = []
    entry = boat_entry()
    key_of = {
        "sensor.kettle_energy": subentry_id(entry, "Kettle"),
        "sensor.oven_energy": subentry_id(entry, "Oven"),
        "sensor.kittiwake_galley_energy": "galley",
    }

    @callback
    def note(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        if state is None or state.state in ("unavailable", "unknown"):
            return
        value = float(state.state)
        shown[state.entity_id].append(value)
        # Whatever is shown is on disk already: pulling the plug now loses none of it.
        journal = hass_storage.get(f"{DOMAIN}.{entry.entry_id}.journal")
        counters = journal["data"]["counters"] if journal else {}
        written = counters.get(key_of[state.entity_id], 0.0) / 1000
        if value > written + 1e-5:
            ahead.append((state.entity_id, value, written))

    async_track_state_change_event(hass, ENERGIES, note)
    await start_boat(hass, entry)
    await dinner.cook(END_S)
    await dinner.rest(END_S, 1800)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    await dinner.rest(END_S + 1800, 3600)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    for entity_id in ENERGIES:
        assert len(shown[entity_id]) > 2, entity_id
        assert shown[entity_id] == sorted(shown[entity_id]), entity_id
        assert shown[entity_id][-1] > 0.09, entity_id
    assert not ahead


async def test_a_killed_start_finds_the_meal_whole(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    entry = await dinner.begin(1200)
    key = f"{DOMAIN}.{entry.entry_id}"
    saved = deepcopy(hass_storage[key])
    await async_wait_recording_done(hass)
    assert await hass.config_entries.async_unload(entry.entry_id)
    # Killed: what was written at the orderly end never was.
    assert hass_storage[key] != saved
    hass_storage[key] = saved
    await start_boat(hass, entry)
    await dinner.cook(END_S, 1220)
    await dinner.rest(END_S, 5400)
    expected_runs, _ = from_engine(entry, dinner.readings)
    assert [brief(run) for run in runs] == [brief(run) for run in expected_runs]


async def test_nothing_is_told_twice_after_a_kill(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await dinner.begin()
    key = f"{DOMAIN}.{entry.entry_id}"
    await dinner.cook(960)
    await dinner.rest(960, 1200)
    # Somewhere in here the kettle's hot drink becomes certain.
    state = deepcopy(hass_storage[key])
    await dinner.rest(2160, 4800)
    assert len(meals) == 1
    journal = deepcopy(hass_storage[f"{key}.journal"])
    journal["data"]["readings"] = [
        [r.entity_id, r.state, r.at_s] for r in dinner.readings
    ]
    await hass.config_entries.async_unload(entry.entry_id)
    hass_storage[key] = state
    hass_storage[f"{key}.journal"] = journal
    await start_boat(hass, entry)
    await dinner.rest(6960, 1200)
    assert len(meals) == 1


async def test_what_was_shown_is_never_undercut_when_the_state_is_lost(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    entry = boat_entry()
    mock_restore_cache_with_extra_data(
        hass,
        [
            (
                State("sensor.kettle_energy", "4.2"),
                {
                    "native_value": 4200.0,
                    "native_unit_of_measurement": "Wh",
                    "counter_id": f"{subentry_id(entry, 'Kettle')}_energy",
                },
            )
        ],
    )
    await dinner.begin(entry=entry)
    assert energy_wh(hass, "sensor.kettle_energy") == 4200
    await dinner.cook(960)
    await dinner.rest(960, 5400)
    assert energy_wh(hass, "sensor.kettle_energy") == pytest.approx(4300, abs=5)


async def test_a_state_that_cannot_be_read_costs_the_meal_and_no_counter(
    hass: HomeAssistant,
    dinner: DinnerAboard,
    hass_storage: dict[str, Any],
    caplog: pytest.LogCaptureFixture,
) -> None:
    entry = boat_entry()
    hass_storage[f"{DOMAIN}.{entry.entry_id}"] = {
        "version": 1,
        "minor_version": 1,
        "key": f"{DOMAIN}.{entry.entry_id}",
        "data": {
            "boat": mapping_from_entry(entry),
            "names": {},
            "engine": {"version": -1},
            "counters": {subentry_id(entry, "Kettle"): 1234.5},
        },
    }
    await start_boat(hass, entry)
    assert "cannot be read" in caplog.text
    assert energy_wh(hass, "sensor.kettle_energy") == pytest.approx(1234.5)


def plain(state: Any) -> Any:
    """Return a state as it comes back from a file."""
    return json.loads(json.dumps(state))


async def test_an_orderly_stop_writes_everything(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    entry = await dinner.begin(700)
    key = f"{DOMAIN}.{entry.entry_id}"
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STOP)
    await hass.async_block_till_done()
    stored = hass_storage[key]["data"]
    assert plain(stored["engine"]) == plain(
        entry.runtime_data.coordinator._engine.snapshot()
    )
    assert hass_storage[f"{key}.journal"]["data"]["readings"] == []


async def test_while_cooking_little_is_written_often(
    hass: HomeAssistant, dinner: DinnerAboard, hass_storage: dict[str, Any]
) -> None:
    entry = await dinner.begin(760)
    key = f"{DOMAIN}.{entry.entry_id}"
    state_s = hass_storage[key]["data"]["engine"]["cells"]
    await dinner.cook(800, 780)
    assert hass_storage[key]["data"]["engine"]["cells"] == state_s
    journal = hass_storage[f"{key}.journal"]["data"]["readings"]
    # No more than half a minute is missing at any time.
    assert time.time() - max(row[2] for row in journal) <= 30


async def test_a_recorder_that_cannot_be_read_is_told_and_the_boat_goes_on(
    hass: HomeAssistant, dinner: DinnerAboard, caplog: pytest.LogCaptureFixture
) -> None:
    entry = await dinner.begin(700)
    await hass.config_entries.async_unload(entry.entry_id)
    dinner.freezer.tick(30)
    with patch(
        "custom_components.galley_loads.coordinator.async_readings",
        side_effect=HomeAssistantError("locked"),
    ):
        await start_boat(hass, entry)
    assert "counts as not measured" in caplog.text
    assert hass.states.get("sensor.kettle_state").state == "heating"


async def test_a_meal_that_is_told_live_is_in_the_book_before_the_state_is_saved(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    entry = await dinner.begin()
    coordinator, meals = entry.runtime_data.coordinator, entry.runtime_data.meals
    meal = made_meal(made_run("Oven", time.time() - 2 * HOUR))
    coordinator._settlings.async_notify([MealSettled(meal)], False)
    for write in coordinator._keeper._before_saving:
        await write()
    assert [found.meal for found in meals.newest] == [meal]
    assert meals.newest[0].origin == "live"
    await hass.async_block_till_done()
