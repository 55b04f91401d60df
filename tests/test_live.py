"""A meal cooked live: state changes in, runs, meals and counters out."""

from itertools import pairwise
from typing import Any

from homeassistant.core import Event, EventStateChangedData, HomeAssistant, callback
from homeassistant.helpers.event import async_track_state_change_event
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.galley_loads.const import EVENT_MEAL_FINISHED, EVENT_RUN_FINISHED
from custom_components.galley_loads.core.events import RunSettled

from .at_home import CURRENT, LOAD, set_sensor, settle
from .cooking import (
    BACKGROUND_W,
    END_S,
    ENERGIES,
    DinnerAboard,
    brief,
    energy_wh,
    from_engine,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_a_meal_cooked_live_is_the_meal_the_engine_finds(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await dinner.begin(END_S)
    await dinner.rest(END_S, 5400)
    expected_runs, expected_meals = from_engine(entry, dinner.readings)
    assert [brief(run) for run in runs] == [brief(run) for run in expected_runs]
    assert {run.data["appliance"] for run in runs} == {"Kettle", "Oven"}
    assert [meal.data["energy_wh"] for meal in meals] == pytest.approx(
        [meal.energy_wh for meal in expected_meals]
    )
    (meal,) = meals
    assert meal.data["appliances"] == ["Kettle", "Oven"]
    # 1500 W for 4 minutes, 2000 W for 10 minutes and ten times one minute.
    assert meal.data["energy_wh"] == pytest.approx(100 + 2000 / 3, rel=0.01)
    # And the sensors tell it with its cost.
    energy = float(hass.states.get("sensor.kittiwake_last_meal_energy").state)
    assert energy == pytest.approx(766.7, rel=0.01)
    assert hass.states.get("sensor.kittiwake_last_meal").state == "dinner"
    # Wh over the inverter's efficiency and the voltage measured at the time.
    assert float(
        hass.states.get("sensor.kittiwake_last_meal_bank_charge").state
    ) == pytest.approx(energy / 0.92 / 13.005, rel=0.01)
    assert hass.states.get("sensor.kittiwake_last_meal_sun_share").state == "0.0"
    assert energy_wh(hass, "sensor.kettle_energy") == pytest.approx(100, rel=0.02)
    assert energy_wh(hass, "sensor.oven_energy") == pytest.approx(666.7, rel=0.01)
    assert energy_wh(hass, "sensor.kittiwake_galley_energy") == pytest.approx(
        energy_wh(hass, "sensor.kettle_energy") + energy_wh(hass, "sensor.oven_energy"),
        abs=0.1,
    )


async def test_the_present_is_shown_while_cooking(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    await dinner.begin(720)
    assert hass.states.get("binary_sensor.kittiwake_cooking").state == "on"
    assert hass.states.get("binary_sensor.kettle_running").state == "on"
    assert hass.states.get("sensor.kettle_state").state == "heating"
    assert float(hass.states.get("sensor.kettle_power").state) == pytest.approx(
        1500, rel=0.02
    )
    assert float(hass.states.get("sensor.kittiwake_galley_power").state) == (
        pytest.approx(1500, rel=0.02)
    )
    assert float(
        hass.states.get("sensor.kittiwake_current_meal_energy").state
    ) == pytest.approx(1500 * 120 / 3600, rel=0.1)
    assert hass.states.get("sensor.kittiwake_last_meal_energy").state == "unknown"


async def test_one_lost_sensor_takes_only_its_own_part_away(
    hass: HomeAssistant, dinner: DinnerAboard, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    await dinner.begin(720)
    for _ in range(3):
        set_sensor(hass, CURRENT, "unavailable")
        await dinner.tick(10)
    assert hass.states.get("sensor.kettle_state").state == "heating"
    readings = hass.states.get("binary_sensor.kittiwake_readings")
    assert readings.state == "on"
    assert readings.attributes["missing"] == [CURRENT]
    assert readings.attributes["called"] == ["the battery's current meter"]
    assert caplog.text.count(f"{CURRENT} gives no value") == 1
    set_sensor(hass, CURRENT, -100)
    assert caplog.text.count(f"{CURRENT} gives values again") == 1


async def test_a_lost_load_makes_powers_unavailable_and_keeps_counters(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    await dinner.begin(720)
    set_sensor(hass, LOAD, "unavailable")
    await dinner.tick(10)
    for entity_id in (
        "sensor.kittiwake_galley_power",
        "sensor.kittiwake_background_power",
        "sensor.kettle_power",
        "sensor.kettle_state",
        "binary_sensor.kettle_running",
        "binary_sensor.kittiwake_cooking",
    ):
        assert hass.states.get(entity_id).state == "unavailable", entity_id
    for entity_id in ENERGIES:
        assert hass.states.get(entity_id).state != "unavailable", entity_id
    set_sensor(hass, LOAD, 120)
    await dinner.tick(10)
    assert hass.states.get("sensor.kittiwake_galley_power").state == "0.0"


async def test_a_steady_load_goes_on_being_counted(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    entry = await dinner.begin()
    # A source that is written again without a change counts as fresh.
    for minute in range(1, 100):
        dinner.turn_to(60 * minute)
        set_sensor(hass, LOAD, BACKGROUND_W)
        await settle(hass)
    coordinator = entry.runtime_data.coordinator
    await hass.config_entries.async_unload(entry.entry_id)
    background_wh = coordinator.counters["background"]
    # All but less than the last half hour, which is not settled yet.
    assert background_wh == pytest.approx(BACKGROUND_W * 71 / 60, rel=0.02)


async def test_a_load_that_wanders_by_two_watts_writes_hardly_a_state(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    await dinner.begin()
    written = async_capture_events(hass, "state_changed")
    for step in range(120):
        # A load that wanders by two watts, twice a second.
        dinner.freezer.tick(0.5)
        set_sensor(hass, LOAD, BACKGROUND_W + step % 3 - 1)
        await settle(hass)
    ours = [e for e in written if e.data["entity_id"] != LOAD]
    assert len(ours) <= 2


async def test_a_meal_in_progress_is_told_in_steps(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    await dinner.begin(600)
    told: list[float] = []

    @callback
    def note(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        if state is not None and state.state not in ("unknown", "unavailable"):
            told.append(float(state.state))

    async_track_state_change_event(hass, ["sensor.kittiwake_current_meal_energy"], note)
    for second in range(0, 120, 2):
        dinner.turn_to(620 + second)
        set_sensor(hass, LOAD, 1620 + second % 4)
        await settle(hass)
    # 1500 W for two minutes: 50 Wh, in steps of 5 Wh instead of one every two seconds.
    assert 6 <= len(told) <= 13
    assert told == sorted(told)
    assert all(after - before >= 5 for before, after in pairwise(told))


async def test_listeners_hear_what_is_settled_until_they_leave(
    hass: HomeAssistant, dinner: DinnerAboard
) -> None:
    entry = await dinner.begin()
    heard: list[Any] = []
    leave = entry.runtime_data.coordinator.async_subscribe(
        lambda events, is_news: heard.extend((event, is_news) for event in events)
    )
    await dinner.cook(900)
    await dinner.rest(900, 3000)
    assert any(isinstance(event, RunSettled) and news for event, news in heard)
    leave()
    leave()
    before = len(heard)
    await dinner.rest(3900, 1200)
    assert len(heard) == before
