"""The recorder's past becomes meals, and what the boat learns from them."""

import asyncio
from types import MappingProxyType
from typing import Any

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.helpers.recorder import get_instance
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.boat.recorded import Recorded, RecordedReadings
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled
from tests.at_home import (
    KITTIWAKE,
    LOAD,
    OTHER_LOAD,
    another_boat,
    boat_entry,
    start_boat,
)
from tests.dinner import DINNER_WH
from tests.recorded_dinners import (
    GALLEY,
    OVEN,
    PROGRESS,
    act,
    hourly,
    meals,
    two_dinners,
)
from tests.recorded_past import record

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_the_advice_knows_the_past_as_soon_as_it_is_read(
    hass: HomeAssistant,
) -> None:
    await record(hass, two_dinners())
    entry = await start_boat(hass, boat_entry())
    runtime = entry.runtime_data
    outlook = runtime.coordinator._engine.outlook().view()
    assert outlook.uses
    assert runtime.advice.result.view.uses == outlook.uses


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
    assert not entry.runtime_data.coordinator.provisional
    assert await meals(hass) == []
    assert hass.states.get(PROGRESS).state == "unknown"
    await act(hass, "backfill")
    assert await meals(hass) == []


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


async def test_a_boat_is_loaded_anew_though_the_recorder_does_not_write_yet(
    hass: HomeAssistant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It writes once Home Assistant has started, which waits for the boat."""
    await record(hass, two_dinners())
    waits = asyncio.Event()

    def never() -> asyncio.Future[None]:
        waits.set()
        return hass.loop.create_future()

    entry = boat_entry()
    entry.add_to_hass(hass)
    with monkeypatch.context() as patched:
        patched.setattr(get_instance(hass), "async_get_commit_future", never)
        assert await hass.config_entries.async_setup(entry.entry_id)
        async with asyncio.timeout(30):
            await waits.wait()
            assert await hass.config_entries.async_unload(entry.entry_id)
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert len(await meals(hass)) == 2
    assert hass.states.get(PROGRESS).state == "100.0"


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
    assert not entry.runtime_data.coordinator.provisional
    assert hass.states.get(GALLEY).state == "0.0"
    caplog.clear()
    async with asyncio.timeout(20):
        while entry.runtime_data.backfill.running:
            await asyncio.sleep(0.01)
    await act(hass, "backfill")
    assert len(await meals(hass)) == 2


async def test_two_boats_read_their_own_past(hass: HomeAssistant) -> None:
    readings = two_dinners()
    same_load = [
        one._replace(entity_id=OTHER_LOAD) for one in readings if one.entity_id == LOAD
    ]
    await record(hass, [*readings, *same_load])
    first = await start_boat(hass, boat_entry())
    kettle = KITTIWAKE["appliances"][:1]
    other = another_boat("Petrel", appliances=kettle, dishes=[])
    second = await start_boat(hass, boat_entry(other))
    assert len(first.runtime_data.meals.newest) == 2
    assert second.runtime_data.meals.newest
    names = {
        name
        for found in second.runtime_data.meals.newest
        for name in found.meal.appliances
    }
    assert names <= {"Kettle"}
