"""The meal book as a file, over the platform's own web address."""

import csv
import io

from homeassistant.components.recorder import Recorder
from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.galley_loads.actions import meal_export
from tests.at_home import boat_at_rest
from tests.book_at_home import DINNER, DINNER_ID, LATER_ID, act, lunch
from tests.core.meals.meals_made import made_meal, made_run

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

HOUR = 3600.0


@pytest.fixture
async def boat(
    recorder_mock: Recorder, enable_custom_integrations: None, hass: HomeAssistant
) -> MockConfigEntry:
    """A boat with two meals, one with a label that would be a formula."""
    entry = await boat_at_rest(hass)
    book = entry.runtime_data.meals
    await book.async_file_live(lunch())
    await book.async_file_live(made_meal(made_run("Oven", DINNER, 40, 660)))
    await act(hass, "label_meal", meal=DINNER_ID, label='=HYPERLINK("x";"y")')
    return entry


async def test_the_spreadsheet_has_every_meal_and_no_formula(
    hass_client: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    client = await hass_client()
    response = await client.get(f"/api/galley_loads/{boat.entry_id}/meals.csv")
    assert response.status == 200
    assert response.content_type == "text/csv"
    assert response.headers["Content-Disposition"] == 'attachment; filename="meals.csv"'
    rows = list(csv.DictReader(io.StringIO(await response.text(), newline="")))
    assert [row["label"] for row in rows] == ["lunch", '\'=HYPERLINK("x";"y")']
    assert [float(row["energy_wh"]) for row in rows] == [100, 660]


async def test_json_has_the_runs_as_well(
    hass_client: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    client = await hass_client()
    response = await client.get(
        f"/api/galley_loads/{boat.entry_id}/meals.json?appliance=Oven"
    )
    assert response.status == 200
    (meal,) = await response.json()
    assert meal["id"] == DINNER_ID
    assert meal["runs"][0]["energy_wh"] == 660


async def test_the_address_of_the_action_hands_out_the_same_meals(
    hass: HomeAssistant, hass_client: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    urls = await act(hass, "export_meals", **{"from": "2026-05-12 18:00"})
    client = await hass_client()
    meals = await (await client.get(urls["json_url"])).json()
    assert [meal["id"] for meal in meals] == [DINNER_ID]


async def test_nobody_reads_the_book_without_a_login(
    hass_client_no_auth: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    client = await hass_client_no_auth()
    for form in ("csv", "json"):
        url = f"/api/galley_loads/{boat.entry_id}/meals.{form}"
        assert (await client.get(url)).status == 401


async def test_a_bad_question_is_answered_with_what_is_allowed(
    hass_client: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    client = await hass_client()
    for query, said in (
        ("from=yesterday", "from"),
        ("to=2026-05-12T00:00:00", "offset"),
        ("colour=red", "colour: not known; allowed are from, to"),
    ):
        url = f"/api/galley_loads/{boat.entry_id}/meals.csv?{query}"
        response = await client.get(url)
        assert response.status == 400
        assert said in (await response.json())["message"]


async def test_a_boat_that_is_not_there_has_no_book(
    hass: HomeAssistant, hass_client: ClientSessionGenerator, boat: MockConfigEntry
) -> None:
    client = await hass_client()
    assert (await client.get("/api/galley_loads/01NOBOAT/meals.csv")).status == 404
    assert (
        await client.get(f"/api/galley_loads/{boat.entry_id}/meals.pdf")
    ).status == 404
    await hass.config_entries.async_unload(boat.entry_id)
    assert (
        await client.get(f"/api/galley_loads/{boat.entry_id}/meals.csv")
    ).status == 503


async def test_a_large_book_comes_in_pieces(
    hass: HomeAssistant,
    hass_client: ClientSessionGenerator,
    boat: MockConfigEntry,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(meal_export, "_CHUNK_CHARACTERS", 100)
    for number in range(40):
        await boat.runtime_data.meals.async_file_live(
            made_meal(made_run("Hob", DINNER + 24 * HOUR * (number + 1)))
        )
    client = await hass_client()
    response = await client.get(f"/api/galley_loads/{boat.entry_id}/meals.json")
    assert response.headers["Transfer-Encoding"] == "chunked"
    meals = await response.json()
    assert len(meals) == 42
    assert LATER_ID in {meal["id"] for meal in meals}
