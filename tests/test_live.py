"""A meal cooked live: state changes in, runs, meals and counters out."""

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import asdict
from itertools import pairwise
import json
import time
from typing import Any
from unittest.mock import patch

from freezegun.api import FrozenDateTimeFactory
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
    MockConfigEntry,
    async_capture_events,
    async_fire_time_changed,
    mock_restore_cache_with_extra_data,
)
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.galley_loads.boat_entry import (
    boat_from_entry,
    mapping_from_entry,
)
from custom_components.galley_loads.const import (
    DOMAIN,
    EVENT_MEAL_FINISHED,
    EVENT_RUN_FINISHED,
)
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.readings import Reading

from .at_home import (
    CURRENT,
    LOAD,
    PLAIN,
    VOLTAGE,
    boat_entry,
    set_sensor,
    set_sensors,
    start_boat,
    subentry_id,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

START = "2026-05-11T17:30:00+00:00"
BACKGROUND_W = 120.0
STEP_S = 20

# Seconds after the start, and what the inverter delivers from then on: a kettle for four
# minutes, then an oven that heats for ten minutes and cycles for half an hour.
MEAL: list[tuple[int, float]] = [
    (600, 1620.0),
    (840, 120.0),
    (960, 2120.0),
    (1560, 120.0),
]
for _cycle in range(10):
    MEAL += [(1680 + 180 * _cycle, 2120.0), (1740 + 180 * _cycle, 120.0)]
END_S = MEAL[-1][0]


def meal_steps(until_s: int, from_s: int = 0) -> Iterator[tuple[int, float]]:
    """Return the time and load of every twenty seconds."""
    load_w, changes = BACKGROUND_W, list(MEAL)
    for at_s in range(0, until_s + STEP_S, STEP_S):
        while changes and changes[0][0] <= at_s:
            load_w = changes.pop(0)[1]
        if at_s >= from_s:
            yield at_s, load_w


class Clock:
    """Lets a boat's time pass, and keeps the readings it gave."""

    def __init__(self, hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
        """Start in the late afternoon."""
        self.hass, self.freezer = hass, freezer
        self.readings: list[Reading] = []
        freezer.move_to(START)

    def keep(self, entity_id: str, value: Any) -> None:
        """Keep a reading for the comparison with the engine alone."""
        self.readings.append(Reading(entity_id, str(value), time.time()))

    async def cook(self, until_s: int, from_s: int = 0) -> None:
        """Live through the meal in steps of twenty seconds."""
        before_w: float | None = None
        for at_s, load_w in meal_steps(until_s, from_s):
            self.freezer.move_to(START)
            self.freezer.tick(at_s)
            if load_w != before_w:
                current_a = round(-load_w / 0.92 / 13.0, 2)
                for entity_id, value in ((CURRENT, current_a), (LOAD, load_w)):
                    set_sensor(self.hass, entity_id, value)
                    self.keep(entity_id, value)
                before_w = load_w
            # Something aboard always reports.
            voltage_v = 13.0 + at_s // STEP_S % 2 / 100
            set_sensor(self.hass, VOLTAGE, voltage_v)
            self.keep(VOLTAGE, voltage_v)
            async_fire_time_changed(self.hass)
            await self.hass.async_block_till_done(wait_background_tasks=True)

    async def rest(self, from_s: int, seconds: int) -> None:
        """Let time pass after the meal, two minutes at a time."""
        for at_s in range(from_s, from_s + seconds, 120):
            self.freezer.move_to(START)
            self.freezer.tick(at_s)
            set_sensor(self.hass, LOAD, BACKGROUND_W)
            self.keep(LOAD, BACKGROUND_W)
            async_fire_time_changed(self.hass)
            await self.hass.async_block_till_done(wait_background_tasks=True)


@pytest.fixture
def clock(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Clock:
    """A clock at the start of the afternoon, with all sensors saying something."""
    made = Clock(hass, freezer)
    set_sensors(hass, BACKGROUND_W)
    for entity_id in sorted(PLAIN):
        made.keep(entity_id, hass.states.get(entity_id).state)
    return made


ENERGIES = (
    "sensor.kettle_energy",
    "sensor.oven_energy",
    "sensor.kittiwake_galley_energy",
)


def energy_wh(hass: HomeAssistant, entity_id: str) -> float:
    return 1000 * float(hass.states.get(entity_id).state)


def brief(run: Any) -> tuple[str, int, int, float]:
    """Return what two tellings of a run are compared by."""
    data = run.data if isinstance(run, Event) else asdict(run)
    return (
        data["appliance"],
        round(data["start_s"]),
        round(data["end_s"]),
        round(data["energy_wh"], 6),
    )


def from_engine(
    entry: MockConfigEntry, readings: list[Reading]
) -> tuple[list[Any], list[Any]]:
    """Return the runs and meals that the engine finds in the same readings."""
    events = run_through(Engine(boat_from_entry(entry)), readings)
    return (
        [event.run for event in events if isinstance(event, RunSettled)],
        [event.meal for event in events if isinstance(event, MealSettled)],
    )


async def test_a_meal_cooked_live_is_the_meal_the_engine_finds(
    hass: HomeAssistant, clock: Clock
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await start_boat(hass, boat_entry())
    await clock.cook(END_S)
    await clock.rest(END_S, 5400)
    expected_runs, expected_meals = from_engine(entry, clock.readings)
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
    hass: HomeAssistant, clock: Clock
) -> None:
    await start_boat(hass, boat_entry())
    await clock.cook(720)
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


async def test_a_restart_in_the_middle_changes_nothing(
    hass: HomeAssistant, clock: Clock
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await start_boat(hass, boat_entry())
    await clock.cook(1200)
    assert await hass.config_entries.async_unload(entry.entry_id)
    await start_boat(hass, entry)
    assert hass.states.get("binary_sensor.kittiwake_cooking").state == "on"
    await clock.cook(END_S, 1220)
    await clock.rest(END_S, 5400)
    expected_runs, expected_meals = from_engine(entry, clock.readings)
    assert [brief(run) for run in runs] == [brief(run) for run in expected_runs]
    assert len(meals) == len(expected_meals) == 1


async def test_no_counter_ever_falls_through_restarts(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
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
    await clock.cook(END_S)
    await clock.rest(END_S, 1800)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    await clock.rest(END_S + 1800, 3600)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    for entity_id in ENERGIES:
        assert len(shown[entity_id]) > 2, entity_id
        assert shown[entity_id] == sorted(shown[entity_id]), entity_id
        assert shown[entity_id][-1] > 0.09, entity_id
    assert not ahead


async def test_a_killed_start_finds_the_meal_whole(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    runs = async_capture_events(hass, EVENT_RUN_FINISHED)
    entry = await start_boat(hass, boat_entry())
    await clock.cook(1200)
    key = f"{DOMAIN}.{entry.entry_id}"
    saved = deepcopy(hass_storage[key])
    await async_wait_recording_done(hass)
    assert await hass.config_entries.async_unload(entry.entry_id)
    # Killed: what was written at the orderly end never was.
    assert hass_storage[key] != saved
    hass_storage[key] = saved
    await start_boat(hass, entry)
    await clock.cook(END_S, 1220)
    await clock.rest(END_S, 5400)
    expected_runs, _ = from_engine(entry, clock.readings)
    assert [brief(run) for run in runs] == [brief(run) for run in expected_runs]


async def test_nothing_is_told_twice_after_a_kill(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    meals = async_capture_events(hass, EVENT_MEAL_FINISHED)
    entry = await start_boat(hass, boat_entry())
    key = f"{DOMAIN}.{entry.entry_id}"
    await clock.cook(960)
    await clock.rest(960, 1200)
    # Somewhere in here the kettle's hot drink becomes certain.
    state = deepcopy(hass_storage[key])
    await clock.rest(2160, 4800)
    assert len(meals) == 1
    journal = deepcopy(hass_storage[f"{key}.journal"])
    journal["data"]["readings"] = [
        [r.entity_id, r.state, r.at_s] for r in clock.readings
    ]
    await hass.config_entries.async_unload(entry.entry_id)
    hass_storage[key] = state
    hass_storage[f"{key}.journal"] = journal
    await start_boat(hass, entry)
    await clock.rest(6960, 1200)
    assert len(meals) == 1


async def test_what_was_shown_is_never_undercut_when_the_state_is_lost(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    mock_restore_cache_with_extra_data(
        hass,
        [
            (
                State("sensor.kettle_energy", "4.2"),
                {"native_value": 4200.0, "native_unit_of_measurement": "Wh"},
            )
        ],
    )
    await start_boat(hass, boat_entry())
    assert energy_wh(hass, "sensor.kettle_energy") == 4200
    await clock.cook(960)
    await clock.rest(960, 5400)
    assert energy_wh(hass, "sensor.kettle_energy") == pytest.approx(4300, abs=5)


async def test_a_state_that_cannot_be_read_costs_the_meal_and_no_counter(
    hass: HomeAssistant,
    clock: Clock,
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


async def test_a_file_of_an_older_kind_keeps_its_counters(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    entry = boat_entry()
    hass_storage[f"{DOMAIN}.{entry.entry_id}"] = {
        "version": 0,
        "minor_version": 1,
        "key": f"{DOMAIN}.{entry.entry_id}",
        "data": {"counters": {subentry_id(entry, "Oven"): 2500.0}},
    }
    await start_boat(hass, entry)
    assert energy_wh(hass, "sensor.oven_energy") == pytest.approx(2500)
    await clock.cook(700)
    assert hass.states.get("sensor.kettle_state").state == "heating"


async def test_one_lost_sensor_takes_only_its_own_part_away(
    hass: HomeAssistant, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    await start_boat(hass, boat_entry())
    await clock.cook(720)
    for _ in range(3):
        set_sensor(hass, CURRENT, "unavailable")
        clock.freezer.tick(10)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
    assert hass.states.get("sensor.kettle_state").state == "heating"
    readings = hass.states.get("binary_sensor.kittiwake_readings")
    assert readings.state == "on"
    assert CURRENT in readings.attributes["missing"]
    assert caplog.text.count(f"{CURRENT} gives no value") == 1
    set_sensor(hass, CURRENT, -100)
    assert caplog.text.count(f"{CURRENT} gives values again") == 1


async def test_a_lost_load_makes_powers_unavailable_and_keeps_counters(
    hass: HomeAssistant, clock: Clock
) -> None:
    await start_boat(hass, boat_entry())
    await clock.cook(720)
    set_sensor(hass, LOAD, "unavailable")
    clock.freezer.tick(10)
    async_fire_time_changed(hass)
    await hass.async_block_till_done()
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
    clock.freezer.tick(10)
    async_fire_time_changed(hass)
    await hass.async_block_till_done()
    assert hass.states.get("sensor.kittiwake_galley_power").state == "0.0"


async def test_a_steady_load_goes_on_being_counted(
    hass: HomeAssistant, clock: Clock
) -> None:
    entry = await start_boat(hass, boat_entry())
    # A source that is written again without a change counts as fresh.
    for minute in range(1, 100):
        clock.freezer.move_to(START)
        clock.freezer.tick(60 * minute)
        set_sensor(hass, LOAD, BACKGROUND_W)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
    coordinator = entry.runtime_data
    await hass.config_entries.async_unload(entry.entry_id)
    background_wh = coordinator.counters["background"]
    # All but the last half hour, which is not settled yet.
    assert background_wh == pytest.approx(BACKGROUND_W * 68 / 60, rel=0.03)


async def test_states_are_few(hass: HomeAssistant, clock: Clock) -> None:
    await start_boat(hass, boat_entry())
    written = async_capture_events(hass, "state_changed")
    for step in range(120):
        # A load that wanders by two watts, twice a second.
        clock.freezer.tick(0.5)
        set_sensor(hass, LOAD, BACKGROUND_W + step % 3 - 1)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
    ours = [e for e in written if e.data["entity_id"] != LOAD]
    assert len(ours) <= 2


async def test_a_meal_in_progress_is_told_in_steps(
    hass: HomeAssistant, clock: Clock
) -> None:
    await start_boat(hass, boat_entry())
    await clock.cook(600)
    told: list[float] = []

    @callback
    def note(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        if state is not None and state.state not in ("unknown", "unavailable"):
            told.append(float(state.state))

    async_track_state_change_event(hass, ["sensor.kittiwake_current_meal_energy"], note)
    for second in range(0, 120, 2):
        clock.freezer.move_to(START)
        clock.freezer.tick(620 + second)
        set_sensor(hass, LOAD, 1620 + second % 4)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
    # 1500 W for two minutes: 50 Wh, in steps of 5 Wh instead of one every two seconds.
    assert 6 <= len(told) <= 13
    assert told == sorted(told)
    assert all(after - before >= 5 for before, after in pairwise(told))


async def test_listeners_hear_what_is_settled_until_they_leave(
    hass: HomeAssistant, clock: Clock
) -> None:
    entry = await start_boat(hass, boat_entry())
    heard: list[Any] = []
    leave = entry.runtime_data.async_subscribe(
        lambda events, is_news: heard.extend((event, is_news) for event in events)
    )
    await clock.cook(900)
    await clock.rest(900, 3000)
    assert any(isinstance(event, RunSettled) and news for event, news in heard)
    leave()
    leave()
    before = len(heard)
    await clock.rest(3900, 1200)
    assert len(heard) == before


def plain(state: Any) -> Any:
    """Return a state as it comes back from a file."""
    return json.loads(json.dumps(state))


async def test_an_orderly_stop_writes_everything(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    entry = await start_boat(hass, boat_entry())
    await clock.cook(700)
    key = f"{DOMAIN}.{entry.entry_id}"
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STOP)
    await hass.async_block_till_done()
    stored = hass_storage[key]["data"]
    assert plain(stored["engine"]) == plain(entry.runtime_data.engine.snapshot())
    assert hass_storage[f"{key}.journal"]["data"]["readings"] == []


async def test_while_cooking_little_is_written_often(
    hass: HomeAssistant, clock: Clock, hass_storage: dict[str, Any]
) -> None:
    entry = await start_boat(hass, boat_entry())
    await clock.cook(760)
    key = f"{DOMAIN}.{entry.entry_id}"
    state_s = hass_storage[key]["data"]["engine"]["cells"]
    await clock.cook(800, 780)
    assert hass_storage[key]["data"]["engine"]["cells"] == state_s
    journal = hass_storage[f"{key}.journal"]["data"]["readings"]
    # No more than half a minute is missing at any time.
    assert time.time() - max(row[2] for row in journal) <= 30


async def test_a_recorder_that_cannot_be_read_is_told_and_the_boat_goes_on(
    hass: HomeAssistant, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    entry = await start_boat(hass, boat_entry())
    await clock.cook(700)
    await hass.config_entries.async_unload(entry.entry_id)
    clock.freezer.tick(30)
    with patch(
        "custom_components.galley_loads.coordinator.async_readings",
        side_effect=HomeAssistantError("locked"),
    ):
        await start_boat(hass, entry)
    assert "counts as not measured" in caplog.text
    assert hass.states.get("sensor.kettle_state").state == "heating"
