"""The recorder's past becomes meals, learnt powers and statistics."""

import asyncio
from collections.abc import Callable
from datetime import timedelta
import time
from types import MappingProxyType
from typing import Any

from homeassistant.components.recorder.models import (
    StatisticData,
    StatisticMeanType,
    StatisticMetaData,
)
from homeassistant.components.recorder.statistics import (
    async_import_statistics,
    statistics_during_period,
)
from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.galley_loads import backfill
from custom_components.galley_loads.boat_entry import (
    boat_from_entry,
    mapping_from_entry,
)
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled
from custom_components.galley_loads.core.readings import Reading
from custom_components.galley_loads.recorded import Recorded, RecordedReadings

from .at_home import KITTIWAKE, LOAD, boat_entry, set_sensor, start_boat
from .core.meals_made import made_meal, made_run
from .dinner import DINNER_WH, HOUR, changes, dinner
from .past import record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

GALLEY = "sensor.kittiwake_galley_energy"
KETTLE = "sensor.kettle_energy"
OVEN = "sensor.oven_energy"
PROGRESS = "sensor.kittiwake_past_read"


def two_dinners() -> list[Reading]:
    """Return what was recorded yesterday and the day before."""
    start_s = time.time() // HOUR * HOUR - 30 * HOUR
    return changes([*dinner(start_s), *dinner(start_s + 24 * HOUR)])


async def meals(hass: HomeAssistant) -> list[dict[str, Any]]:
    response = await act(hass, "list_meals", runs=True)
    assert response is not None
    return response["meals"]


async def act(hass: HomeAssistant, action: str, **data: Any) -> dict[str, Any] | None:
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


async def test_the_advice_knows_the_past_as_soon_as_it_is_read(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    entry = await start_boat(hass, boat_entry())
    coordinator = entry.runtime_data
    outlook = coordinator.engine.outlook.view()
    assert outlook.uses
    assert coordinator.advice.result.view.uses == outlook.uses


async def test_the_past_gives_the_meals_that_the_engine_finds_live(
    hass: HomeAssistant,
) -> None:
    readings = two_dinners()
    await record(hass, readings)
    entry = await start_boat(hass, boat_entry())
    events = run_through(Engine(boat_from_entry(entry)), readings)
    expected = [event.meal for event in events if isinstance(event, MealSettled)]
    assert len(expected) == 2
    book = entry.runtime_data.meals.newest
    assert [found.meal for found in book] == expected
    assert [meal["origin"] for meal in await meals(hass)] == ["history", "history"]
    assert expected[0].energy_wh == pytest.approx(DINNER_WH, rel=0.02)
    assert hass.states.get(PROGRESS).state == "100.0"


async def test_without_a_past_the_present_starts_at_once(hass: HomeAssistant) -> None:
    entry = await start_boat(hass, boat_entry())
    assert not entry.runtime_data.provisional
    assert await meals(hass) == []
    assert hass.states.get(PROGRESS).state == "unknown"
    await act(hass, "backfill")
    assert await meals(hass) == []


async def test_counters_do_not_count_the_past_and_statistics_show_it(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    assert float(hass.states.get(GALLEY).state) == 0
    for entity_id, expected_wh in (
        (KETTLE, 2 * 1500 * 4 / 60),
        (OVEN, 2 * 2000 * 20 / 60),
        (GALLEY, 2 * DINNER_WH),
    ):
        rows = await hourly(hass, entity_id)
        # The dinner of each day, hour by hour, and nothing between.
        assert sum(row["change"] for row in rows[1:]) == pytest.approx(
            expected_wh / 1000, rel=0.03
        )
        assert rows[-1]["sum"] == pytest.approx(0.0)
        hours = [row["start"] for row in rows]
        assert hours == [hours[0] + HOUR * n for n in range(len(hours))]
        # Nothing was there to be shown; the platform's first row is to come.
        assert all(row["state"] is None for row in rows)
        assert hours[-1] == time.time() // HOUR * HOUR - HOUR


async def test_reading_the_past_again_changes_nothing(hass: HomeAssistant) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    before = await meals(hass)
    rows = await hourly(hass, GALLEY)
    await act(hass, "backfill")
    assert await meals(hass) == before
    assert await hourly(hass, GALLEY) == rows
    assert float(hass.states.get(GALLEY).state) == 0


async def test_what_the_platform_wrote_itself_is_not_touched(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    now = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
    metadata = StatisticMetaData(
        mean_type=StatisticMeanType.NONE,
        has_sum=True,
        name=None,
        source="recorder",
        statistic_id=GALLEY,
        unit_class="energy",
        unit_of_measurement="kWh",
    )
    live = [
        # Somebody has corrected the sum by half a kilowatt-hour.
        StatisticData(start=now, state=0.25, sum=0.75),
        StatisticData(start=now + timedelta(hours=1), state=0.4, sum=0.9),
    ]
    async_import_statistics(hass, metadata, live)
    before = await hourly(hass, GALLEY)
    await act(hass, "backfill")
    after = await hourly(hass, GALLEY)
    assert [(r["state"], r["sum"]) for r in after[-2:]] == [(0.25, 0.75), (0.4, 0.9)]
    # The past leads up to where the counter's zero is now.
    assert after[-3]["sum"] == pytest.approx(0.5)
    assert [row["start"] for row in after] == [row["start"] for row in before]
    assert after[-2]["change"] == pytest.approx(0.25)


async def test_what_the_crew_did_to_past_meals_stays(hass: HomeAssistant) -> None:
    await record(hass, two_dinners())
    await start_boat(hass, boat_entry())
    first, second = await meals(hass)
    await act(hass, "label_meal", meal=first["id"], dish="Bread")
    await act(hass, "delete_meal", meal=second["id"])
    await act(hass, "backfill")
    (left,) = await meals(hass)
    assert (left["id"], left["dish"]) == (first["id"], "Bread")


async def test_a_boat_that_gets_an_appliance_reads_the_past_with_it(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    bare = {**KITTIWAKE, "appliances": KITTIWAKE["appliances"][:1], "dishes": []}
    entry = await start_boat(hass, boat_entry(bare))
    assert {name for meal in await meals(hass) for name in meal["appliances"]} <= {
        "Kettle"
    }
    hass.config_entries.async_add_subentry(
        entry,
        ConfigSubentry(
            data=MappingProxyType({"kind": "oven", "rated_power": 2000}),
            subentry_type="appliance",
            title="Oven",
            unique_id="appliance:oven",
        ),
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    found = await meals(hass)
    assert [meal["appliances"] for meal in found] == [["Kettle", "Oven"]] * 2
    assert float(hass.states.get(OVEN).state) == 0
    rows = await hourly(hass, OVEN)
    assert sum(row["change"] for row in rows[1:]) == pytest.approx(4 / 3, rel=0.02)


async def test_a_sensor_that_spoke_kilowatts_in_the_past_is_converted(
    hass: HomeAssistant,
) -> None:
    readings = two_dinners()
    await record(hass, readings[: len(readings) // 2])
    for reading in readings[len(readings) // 2 :]:
        if reading.entity_id == LOAD:
            hass.states.async_set(
                LOAD,
                str(float(reading.state) / 1000),
                {"unit_of_measurement": "kW"},
                timestamp=reading.at_s,
            )
        else:
            hass.states.async_set(
                reading.entity_id,
                reading.state,
                hass.states.get(reading.entity_id).attributes,
                timestamp=reading.at_s,
            )
    await async_wait_recording_done(hass)
    await start_boat(hass, boat_entry())
    assert [meal["energy_wh"] for meal in await meals(hass)] == pytest.approx(
        [DINNER_WH] * 2, rel=0.03
    )


class Windows:
    """Watches the windows in which the past is read."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Read an hour at a time."""
        self.starts: list[float] = []
        self.after_window: Callable[[int], None] = lambda number: None
        read = Recorded.async_read

        async def watched(
            recorded: Recorded, from_s: float, to_s: float
        ) -> RecordedReadings:
            self.starts.append(from_s)
            self.after_window(len(self.starts))
            return await read(recorded, from_s, to_s)

        monkeypatch.setattr(backfill, "WINDOW_S", HOUR)
        monkeypatch.setattr(Recorded, "async_read", watched)


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> Windows:
    """Small windows."""
    return Windows(monkeypatch)


async def test_the_size_of_the_windows_makes_no_difference(
    hass: HomeAssistant, windows: Windows
) -> None:
    readings = two_dinners()
    await record(hass, readings)
    entry = await start_boat(hass, boat_entry())
    assert len(windows.starts) > 10
    events = run_through(Engine(boat_from_entry(entry)), readings)
    assert [found.meal for found in entry.runtime_data.meals.newest] == [
        event.meal for event in events if isinstance(event, MealSettled)
    ]


async def test_an_interrupted_reading_goes_on_where_it_was(
    hass: HomeAssistant, windows: Windows, caplog: pytest.LogCaptureFixture
) -> None:
    readings = two_dinners()
    await record(hass, readings)
    entry = boat_entry()

    def interrupt(number: int) -> None:
        if number == 5:
            hass.async_create_task(hass.config_entries.async_unload(entry.entry_id))

    windows.after_window = interrupt
    entry.add_to_hass(hass)
    await start_boat(hass, entry)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert "interrupted" in caplog.text
    seen = len(windows.starts)
    assert seen < 10
    await start_boat(hass, entry)
    # Nothing was read twice but what the interruption cut short.
    assert windows.starts[seen] >= windows.starts[seen - 1]
    events = run_through(Engine(boat_from_entry(entry)), readings)
    assert [found.meal for found in entry.runtime_data.meals.newest] == [
        event.meal for event in events if isinstance(event, MealSettled)
    ]
    assert hass.states.get(PROGRESS).state == "100.0"


async def test_the_reading_can_be_stopped_and_asked_for_again(
    hass: HomeAssistant, windows: Windows
) -> None:
    await record(hass, two_dinners())
    entry = await start_boat(hass, boat_entry())
    with pytest.raises(ServiceValidationError, match="not being read"):
        await act(hass, "stop_backfill")
    refused: list[str] = []

    async def stop() -> None:
        try:
            await hass.services.async_call(DOMAIN, "backfill", {}, blocking=True)
        except ServiceValidationError as err:
            refused.append(str(err))
        await hass.services.async_call(DOMAIN, "stop_backfill", {}, blocking=True)

    windows.starts.clear()
    windows.after_window = lambda n: hass.async_create_task(stop()) if n == 3 else None
    await act(hass, "backfill")
    assert refused == ["The past of Kittiwake is being read already"]
    assert entry.runtime_data.backfill.progress.state == "stopped"
    assert 0 < float(hass.states.get(PROGRESS).state) < 100
    await act(hass, "backfill")
    assert entry.runtime_data.backfill.progress.state == "done"
    assert len(await meals(hass)) == 2


async def test_a_past_that_cannot_be_read_does_not_stop_the_present(
    hass: HomeAssistant,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    await record(hass, two_dinners())

    async def broken(*args: Any) -> RecordedReadings:
        raise RuntimeError("the database is locked")

    with monkeypatch.context() as patch:
        patch.setattr(Recorded, "async_read", broken)
        entry = await start_boat(hass, boat_entry())
    assert "the present goes on without it" in caplog.text
    assert not entry.runtime_data.provisional
    assert hass.states.get(GALLEY).state == "0.0"
    caplog.clear()
    async with asyncio.timeout(20):
        while entry.runtime_data.backfill.running:
            await asyncio.sleep(0.01)
    await act(hass, "backfill")
    assert len(await meals(hass)) == 2


async def test_a_saved_past_that_cannot_be_read_begins_anew(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    await record(hass, two_dinners())
    entry = boat_entry()
    started = dt_util.utcnow().timestamp()
    parts = ("sensors", "bank", "inverter", "appliances", "circuits")
    mapping = mapping_from_entry(entry)
    hass_storage[f"{DOMAIN}.{entry.entry_id}.history"] = {
        "version": 1,
        "minor_version": 1,
        "key": f"{DOMAIN}.{entry.entry_id}.history",
        "data": {
            "first_start_s": started,
            "live_from_s": {},
            "counts_from_s": {},
            "boat": None,
            "run": {
                "boat": {key: mapping[key] for key in parts},
                "past": {"engine": {"version": -1}, "from_s": 0},
            },
        },
    }
    await start_boat(hass, entry)
    assert len(await meals(hass)) == 2


async def test_two_boats_read_their_own_past(hass: HomeAssistant) -> None:
    await record(hass, two_dinners())
    first = await start_boat(hass, boat_entry())
    other = {**KITTIWAKE, "name": "Petrel", "appliances": KITTIWAKE["appliances"][:1]}
    second = await start_boat(hass, boat_entry({**other, "dishes": []}))
    assert len(first.runtime_data.meals.newest) == 2
    names = {
        name
        for found in second.runtime_data.meals.newest
        for name in found.meal.appliances
    }
    assert names <= {"Kettle"}


async def test_what_is_said_while_past_and_present_meet_is_not_lost(
    hass: HomeAssistant,
    windows: Windows,
    monkeypatch: pytest.MonkeyPatch,
    hass_storage: dict[str, Any],
) -> None:
    await record(hass, two_dinners())
    entry = boat_entry()
    saved: list[bool] = []
    monkeypatch.setattr(backfill, "SAVE_EVERY_S", 0.0)
    monkeypatch.setattr(backfill, "_FEW_READINGS", 0)

    def speak(number: int) -> None:
        set_sensor(hass, LOAD, 150.0 + number)
        stored = hass_storage.get(f"{DOMAIN}.{entry.entry_id}.history", {})
        saved.append(bool(stored.get("data", {}).get("run")))

    windows.after_window = speak
    await start_boat(hass, entry)
    # Work is saved as it goes on, and not kept when it is done.
    assert saved[-1]
    assert hass_storage[f"{DOMAIN}.{entry.entry_id}.history"]["data"]["run"] is None
    last = entry.runtime_data.engine.last_sample
    assert last.load_w == 150.0 + len(windows.starts)
    assert len(await meals(hass)) == 2


async def test_a_meal_that_is_told_live_is_in_the_book_before_the_state_is_saved(
    hass: HomeAssistant,
) -> None:
    entry = await start_boat(hass, boat_entry())
    coordinator = entry.runtime_data
    meal = made_meal(made_run("Oven", time.time() - 2 * HOUR))
    for listener in list(coordinator._event_listeners):
        listener([MealSettled(meal)], False)
    for write in coordinator._keeper.before_saving:
        await write()
    assert [found.meal for found in coordinator.meals.newest] == [meal]
    assert coordinator.meals.newest[0].origin == "live"
    await hass.async_block_till_done()


async def test_an_older_file_keeps_from_when_on_counters_count(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    entry = boat_entry()
    key = f"{DOMAIN}.{entry.entry_id}.history"
    hass_storage[key] = {
        "version": 1,
        "minor_version": 0,
        "key": key,
        "data": {"first_start_s": 5.0, "counts_from_s": {"galley": 7.0}},
    }
    await start_boat(hass, entry)
    data = hass_storage[key]["data"]
    assert data["first_start_s"] == 5.0
    assert data["counts_from_s"]["galley"] == 7.0
    assert hass_storage[key]["minor_version"] == 1
