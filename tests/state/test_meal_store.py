"""The meal book on disk: pages, power cuts, old and new forms of the files."""

from datetime import UTC, datetime
import json
from typing import Any

from homeassistant.core import HomeAssistant
import pytest

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.inference.model.activity import (
    Phase,
    PhaseSpan,
    Run,
)
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.meals.meal_query import MealFilter
from custom_components.galley_loads.core.meals.meal_record import (
    MealRecord,
    Origin,
    record_of,
    record_to_mapping,
)
from custom_components.galley_loads.state.meal_store import (
    PAGES_IN_MEMORY,
    MealNotFoundError,
    MealStore,
)

ENTRY = "01BOAT"
KEY = f"{DOMAIN}.{ENTRY}.meals"


def meal(start: datetime, minutes: float = 30, wh: float = 300) -> Meal:
    start_s = start.timestamp()
    end_s = start_s + minutes * 60
    phases = (PhaseSpan(Phase.HEATING, start_s, end_s),)
    run = Run("Hob", start_s, end_s, wh, 1500, 0.9, phases, 25, 20, 100)
    return Meal(
        start_s, end_s, "dinner", ("Hob",), wh, 25, 20, 21, 1 / 3, 80, 76, (run,)
    )


def at(month: int, day: int = 12, hour: int = 19, year: int = 2026) -> datetime:
    return datetime(year, month, day, hour, tzinfo=UTC)


async def loaded(hass: HomeAssistant) -> MealStore:
    store = MealStore(hass, ENTRY)
    await store.async_load()
    return store


async def all_of(store: MealStore, **wanted: Any) -> list[MealRecord]:
    return [record async for record in store.async_meals(MealFilter(**wanted))]


async def test_a_new_book_is_empty(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    store = await loaded(hass)
    assert await all_of(store) == []
    assert store.newest == []
    assert hass_storage == {}


async def test_a_meal_rewrites_its_month_and_no_other(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    store = await loaded(hass)
    await store.async_file_live(meal(at(4)))
    april = hass_storage[f"{KEY}.2026-04"]
    await store.async_file_live(meal(at(5)))
    await store.async_file_live(meal(at(5, 13)))
    assert hass_storage[f"{KEY}.2026-04"] is april
    assert len(hass_storage[f"{KEY}.2026-05"]["data"]["meals"]) == 2
    assert hass_storage[KEY]["data"] == {"pages": ["2026-04", "2026-05"]}
    again = await loaded(hass)
    assert await all_of(again) == await all_of(store)
    assert again.newest == store.newest


async def test_years_of_meals_need_a_few_pages_of_memory(hass: HomeAssistant) -> None:
    store = await loaded(hass)
    for year in range(2024, 2027):
        for month in range(1, 13):
            await store.async_file_live(meal(at(month, year=year)))
    assert len(await all_of(store)) == 36
    assert len(store._pages) <= PAGES_IN_MEMORY
    spring = await all_of(
        store,
        from_s=at(3, 1, year=2025).timestamp(),
        to_s=at(5, 1, year=2025).timestamp(),
    )
    assert len(spring) == 2
    assert len(store.newest) == 2


async def test_a_meal_across_the_end_of_a_month_is_known_on_the_next_page(
    hass: HomeAssistant,
) -> None:
    store = await loaded(hass)
    night = meal(datetime(2026, 5, 31, 23, 30, tzinfo=UTC), 60)
    await store.async_file_live(night)
    late = datetime(2026, 6, 1, 0, 10, tzinfo=UTC)
    assert await store.async_file_history([meal(late, 10)], (0, 2e9)) == 0
    assert [record.meal for record in await all_of(store)] == [night]


async def test_a_deleted_meal_stays_away_after_a_restart(hass: HomeAssistant) -> None:
    store = await loaded(hass)
    await store.async_file_live(meal(at(5)))
    await store.async_delete("20260512T190000Z")
    again = await loaded(hass)
    await again.async_file_live(meal(at(5)))
    assert await again.async_file_history([meal(at(5))], (0, 2e9)) == 0
    assert await all_of(again) == []


async def test_listeners_hear_of_changes_and_of_nothing_else(
    hass: HomeAssistant,
) -> None:
    store = await loaded(hass)
    heard: list[int] = []
    stop = store.async_listen(lambda: heard.append(len(store.newest)))
    await store.async_file_live(meal(at(5)))
    await store.async_file_live(meal(at(5)))
    assert heard == [1]
    stop()
    stop()
    await store.async_delete("20260512T190000Z")
    assert heard == [1]


@pytest.mark.parametrize(
    "meal_id", ["", "20260512T190001Z", "19990101T000000Z", "nonsense"]
)
async def test_a_meal_that_is_not_there_is_said_to_be_not_there(
    hass: HomeAssistant, meal_id: str
) -> None:
    store = await loaded(hass)
    await store.async_file_live(meal(at(5)))
    with pytest.raises(MealNotFoundError):
        await store.async_get(meal_id)


def stored(data: dict[str, Any], minor_version: int = 1, **more: Any) -> dict[str, Any]:
    return {"version": 1, "minor_version": minor_version, "data": data, **more}


async def test_rows_that_cannot_be_read_are_kept_as_they_are(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    row = record_to_mapping(record_of(meal(at(5)), Origin.LIVE))
    of_later_release = {**row, "id": "20260513T190000Z", "origin": "logbook"}
    page_key = f"{KEY}.2026-05"
    hass_storage[KEY] = stored({"pages": ["2026-05"]}, key=KEY)
    hass_storage[page_key] = stored(
        {"meals": [of_later_release, "damaged", row], "removed": []}, key=page_key
    )
    store = await loaded(hass)
    assert len(await all_of(store)) == 1
    await store.async_label("20260512T190000Z", "Feast", None)
    # As a file has it, where a tuple is a list.
    rows = json.loads(json.dumps(hass_storage[page_key]["data"]["meals"]))
    assert json.loads(json.dumps(of_later_release)) in rows
    assert "damaged" in rows


async def test_with_the_boat_its_book_goes(
    hass: HomeAssistant, hass_storage: dict[str, Any]
) -> None:
    store = await loaded(hass)
    for month in (4, 5):
        await store.async_file_live(meal(at(month)))
    await MealStore(hass, ENTRY).async_remove()
    assert hass_storage == {}
    await MealStore(hass, "never").async_remove()
