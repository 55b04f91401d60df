"""The actions on the meal book and the boat, as automations and people call them."""

from datetime import UTC, datetime
import json
from pathlib import Path
from typing import Any

from homeassistant.components.recorder import Recorder
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers.translation import async_get_translations
import probatio
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
import yaml

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.boat.boat_file import boat_from_text
from custom_components.galley_loads.core.meals.meal_record import Origin, record_of
from tests.at_home import KITTIWAKE, another_boat, boat_at_rest, boat_entry, start_boat
from tests.book_at_home import DINNER_ID, LATER, LATER_ID, LUNCH_ID, act, dinner, lunch
from tests.core.meals.meals_made import made_meal, made_run

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

PACKAGE = Path("custom_components/galley_loads")


@pytest.fixture
async def boat(
    recorder_mock: Recorder, enable_custom_integrations: None, hass: HomeAssistant
) -> MockConfigEntry:
    """A boat with three meals in its book."""
    entry = await boat_at_rest(hass)
    for meal in (lunch(), dinner(), made_meal(made_run("Oven", LATER, 30, 500))):
        await entry.runtime_data.meals.async_file_live(meal)
    return entry


@pytest.mark.usefixtures("boat")
async def test_meals_are_listed_in_order_of_time(hass: HomeAssistant) -> None:
    response = await act(hass, "list_meals")
    assert response["count"] == 3
    assert [meal["id"] for meal in response["meals"]] == [
        LUNCH_ID,
        DINNER_ID,
        LATER_ID,
    ]
    row = response["meals"][1]
    assert row["start"] == "2026-05-12T19:00:00+00:00"
    assert row["appliances"] == "Kettle, Oven"
    assert row["energy_wh"] == 760
    assert "runs" not in row


FOUND: list[tuple[dict[str, Any], list[str]]] = [
    ({"from": "2026-05-12 18:00"}, [DINNER_ID, LATER_ID]),
    ({"from": "2026-05-12T20:00:00+02:00"}, [DINNER_ID, LATER_ID]),
    ({"to": "2026-05-12"}, [LUNCH_ID, DINNER_ID]),
    ({"from": "2026-05-13", "to": "2026-06-30"}, [LATER_ID]),
    ({"from": datetime(2026, 6, 1, tzinfo=UTC)}, [LATER_ID]),
    ({"label": "Lunch"}, [LUNCH_ID]),
    ({"appliance": "kettle"}, [LUNCH_ID, DINNER_ID]),
    ({"dish": "Bread"}, []),
    ({"limit": 1}, [LATER_ID]),
    ({"label": ""}, [LUNCH_ID, DINNER_ID, LATER_ID]),
]


@pytest.mark.usefixtures("boat")
async def test_meals_are_found_by_time_words_and_appliance(hass: HomeAssistant) -> None:
    for wanted, found in FOUND:
        response = await act(hass, "list_meals", **wanted)
        assert [meal["id"] for meal in response["meals"]] == found, wanted


async def test_of_many_meals_the_newest_are_listed(
    hass: HomeAssistant, boat: MockConfigEntry
) -> None:
    for number in range(9):
        await boat.runtime_data.meals.async_file_live(
            made_meal(made_run("Hob", LATER + 86400 * (number + 1)))
        )
    response = await act(hass, "list_meals", limit=2, runs=True)
    assert response["count"] == 12
    assert [meal["id"][:8] for meal in response["meals"]] == ["20260610", "20260611"]
    assert response["meals"][0]["runs"][0]["phases"][0]["phase"] == "heating"


@pytest.mark.usefixtures("boat")
async def test_meals_are_summed_by_what_one_likes(hass: HomeAssistant) -> None:
    everything = await act(hass, "sum_meals")
    (total,) = everything["sums"]
    assert total["group"] is None
    assert (total["meals"], total["energy_wh"]) == (3, 1360)
    assert total["solar_share"] == 0.5
    by_label = await act(hass, "sum_meals", by="label")
    assert [(s["group"], s["meals"]) for s in by_label["sums"]] == [
        ("dinner", 2),
        ("lunch", 1),
    ]
    by_appliance = await act(hass, "sum_meals", by="appliance", to="2026-05-31")
    assert [(s["group"], s["energy_wh"]) for s in by_appliance["sums"]] == [
        ("Oven", 660),
        ("Kettle", 200),
    ]
    by_month = await act(hass, "sum_meals", by="month")
    assert [s["group"] for s in by_month["sums"]] == ["2026-05", "2026-06"]


@pytest.mark.usefixtures("boat")
async def test_a_meal_is_labelled_and_tied_to_a_dish(hass: HomeAssistant) -> None:
    done = await act(hass, "label_meal", meal=DINNER_ID, label=" Birthday  dinner ")
    assert done["meals"][0]["label"] == "Birthday dinner"
    done = await act(hass, "label_meal", meal=DINNER_ID, dish="bread")
    assert (done["meals"][0]["label"], done["meals"][0]["dish"]) == (
        "Birthday dinner",
        "Bread",
    )
    assert (await act(hass, "list_meals", dish="Bread"))["count"] == 1
    done = await act(hass, "label_meal", meal=DINNER_ID, label="", dish="")
    assert (done["meals"][0]["label"], done["meals"][0]["dish"]) == ("dinner", None)


@pytest.mark.usefixtures("boat")
async def test_a_meal_is_split_and_joined_again(hass: HomeAssistant) -> None:
    before = await act(hass, "sum_meals")
    parts = (await act(hass, "split_meal", meal=DINNER_ID, at="2026-05-12 19:05"))[
        "meals"
    ]
    assert [part["appliances"] for part in parts] == ["Kettle", "Oven"]
    assert (await act(hass, "list_meals"))["count"] == 4
    joined = await act(hass, "join_meals", meals=[part["id"] for part in parts])
    assert joined["meals"][0]["id"] == DINNER_ID
    assert await act(hass, "sum_meals") == before


@pytest.mark.usefixtures("boat")
async def test_a_meal_is_deleted(hass: HomeAssistant) -> None:
    done = await act(hass, "delete_meal", meal=LUNCH_ID)
    assert done["meals"][0]["id"] == LUNCH_ID
    assert (await act(hass, "list_meals"))["count"] == 2


@pytest.mark.usefixtures("boat")
async def test_the_book_is_told_as_a_text_to_share(hass: HomeAssistant) -> None:
    response = await act(hass, "export_meals", to="2026-05-31", by="label")
    text = response["text"].splitlines()
    assert text[0] == "Kittiwake: meals"
    assert text[1].startswith("Tue 12 May 2026 12:00-12:04 lunch: Kettle; 100 Wh")
    assert text[-2:] == [
        "Dinner: 1 meal, 760 Wh, 69.1 Ah at the bank, 50 % from the sun",
        "Lunch: 1 meal, 100 Wh, 9.1 Ah at the bank, 50 % from the sun",
    ]
    assert "meals.csv?to=2026-06-01T00%3A00%3A00%2B00%3A00" in response["csv_url"]


async def test_the_boat_is_handed_out_as_a_boat_file(
    hass: HomeAssistant, boat: MockConfigEntry
) -> None:
    response = await act(hass, "export_boat")
    assert boat_from_text(response["boat_file"]) == boat.runtime_data.coordinator.boat
    assert yaml.safe_load(response["boat_file"])["name"] == KITTIWAKE["name"]


async def test_all_meals_of_the_calendar_can_be_asked_for(
    hass: HomeAssistant, boat: MockConfigEntry
) -> None:
    response = await act(
        hass, "list_meals", **{"from": "0001-01-01", "to": "9999-12-31"}
    )
    assert len(response["meals"]) == len((await act(hass, "list_meals"))["meals"]) > 0


# Action, what it is given, the field that is wrong, and part of what is allowed.
BAD_INPUT: list[tuple[str, dict[str, Any], str, str]] = [
    ("list_meals", {"from": "yesterday"}, "from", "date and time"),
    ("list_meals", {"from": 5}, "from", "date and time"),
    ("list_meals", {"to": "2026-13-01"}, "to", "date and time"),
    (
        "list_meals",
        {"from": "2026-05-12", "to": "2026-05-01"},
        "to",
        "after from, 2026-05-12",
    ),
    ("list_meals", {"limit": 0}, "limit", "1 to 1000"),
    ("list_meals", {"limit": 2.5}, "limit", "1 to 1000"),
    ("list_meals", {"limit": True}, "limit", "1 to 1000"),
    ("list_meals", {"limit": "ten"}, "limit", "1 to 1000"),
    ("list_meals", {"runs": "maybe"}, "runs", "true or false"),
    ("list_meals", {"label": 7}, "label", "a text"),
    ("list_meals", {"dish": "x" * 101}, "dish", "at most 100"),
    ("sum_meals", {"by": "colour"}, "by", "all, label, dish, appliance, day"),
    ("sum_meals", {"by": ["label"]}, "by", "all, label, dish, appliance, day"),
    ("export_meals", {"by": 3}, "by", "all, label"),
    ("label_meal", {"meal": DINNER_ID}, "label", "a label, a dish, or both"),
    ("label_meal", {"meal": DINNER_ID, "dish": "Pie"}, "dish", "Bread"),
    ("label_meal", {"meal": "x", "label": "y"}, "meal", "list_meals"),
    ("label_meal", {"meal": "", "label": "y"}, "meal", "not empty"),
    ("label_meal", {"meal": DINNER_ID, "label": "a\u202epie"}, "label", "printable"),
    # The ends of the calendar, a zone's hours before and after them.
    ("split_meal", {"meal": DINNER_ID, "at": "9999-12-31 23:59"}, "at", "begin before"),
    ("split_meal", {"meal": DINNER_ID, "at": "0001-01-01 00:00"}, "at", "begin before"),
    ("delete_meal", {"meal": "19990101T000000Z"}, "meal", "list_meals"),
    ("delete_meal", {"meal": {"id": 1}}, "meal", "not empty"),
    ("split_meal", {"meal": DINNER_ID, "at": "noon"}, "at", "date and time"),
    ("split_meal", {"meal": DINNER_ID, "at": "2026-05-12"}, "at", "begin before"),
    ("join_meals", {"meals": [DINNER_ID]}, "meals", "two or more"),
    ("join_meals", {"meals": []}, "meals", "one or more"),
    ("join_meals", {"meals": [LUNCH_ID, "x"]}, "meals", "list_meals"),
    ("join_meals", {"meals": [LUNCH_ID, LATER_ID]}, "meals", "follow each other"),
]


@pytest.mark.usefixtures("boat")
async def test_bad_input_is_told_with_field_and_what_is_allowed(
    hass: HomeAssistant,
) -> None:
    for action, data, field, allowed in BAD_INPUT:
        with pytest.raises(ServiceValidationError) as error:
            await act(hass, action, **data)
        assert error.value.translation_domain == DOMAIN
        message = str(error.value)
        assert message.startswith(f"{field}: "), message
        assert allowed in message
    assert (await act(hass, "list_meals"))["count"] == 3


# What each action needs at least.
NEEDED: dict[str, dict[str, Any]] = {
    "list_meals": {},
    "sum_meals": {},
    "export_meals": {},
    "label_meal": {"meal": DINNER_ID},
    "split_meal": {"meal": DINNER_ID, "at": "2026-05-12 19:05"},
    "join_meals": {"meals": [DINNER_ID, LATER_ID]},
    "delete_meal": {"meal": DINNER_ID},
    "backfill": {},
    "stop_backfill": {},
    "export_boat": {},
}


@pytest.mark.usefixtures("boat")
async def test_an_unknown_boat_or_field_is_refused(hass: HomeAssistant) -> None:
    async def call(action: str, **data: Any) -> None:
        returns = action not in ("backfill", "stop_backfill")
        await hass.services.async_call(
            DOMAIN, action, data, blocking=True, return_response=returns
        )

    for action, needed in NEEDED.items():
        with pytest.raises(ServiceValidationError, match="not found"):
            await call(action, **needed, config_entry_id="01NOBOAT")
        with pytest.raises(probatio.Invalid, match="colour"):
            await call(action, **needed, colour="red")
        if needed:
            with pytest.raises(probatio.Invalid, match="meal"):
                await call(action)
    assert (await act(hass, "list_meals"))["count"] == 3


async def test_with_two_boats_the_boat_is_named(
    hass: HomeAssistant, boat: MockConfigEntry
) -> None:
    other = await start_boat(hass, boat_entry(another_boat("Petrel")))
    with pytest.raises(ServiceValidationError):
        await act(hass, "list_meals")
    assert (await act(hass, "list_meals", config_entry_id=boat.entry_id))["count"] == 3
    assert (await act(hass, "list_meals", config_entry_id=other.entry_id))["count"] == 0


async def test_every_action_and_field_is_described(hass: HomeAssistant) -> None:
    """Actions, their fields in services.yaml, texts and icons go together."""
    await start_boat(hass, boat_entry())
    texts = await async_get_translations(hass, "en", "services", [DOMAIN])
    described = yaml.safe_load((PACKAGE / "services.yaml").read_text())
    icons = json.loads((PACKAGE / "icons.json").read_text())["services"]
    registered = hass.services.async_services_for_domain(DOMAIN)
    assert set(registered) == set(described)
    assert set(registered) <= set(icons)
    for action, service in registered.items():
        path = f"component.{DOMAIN}.services.{action}"
        assert f"{path}.name" in texts
        assert f"{path}.description" in texts
        fields = {str(key) for key in service.schema.schema}
        assert fields == set(described[action].get("fields") or {})
        for field in fields:
            assert f"{path}.fields.{field}.name" in texts
            assert f"{path}.fields.{field}.description" in texts


async def test_every_error_of_the_actions_has_its_text(hass: HomeAssistant) -> None:
    texts = json.loads((PACKAGE / "translations" / "en.json").read_text())["exceptions"]
    assert {
        "bad_value",
        "split_outside",
        "join_one",
        "join_apart",
        "backfill_running",
        "backfill_not_running",
    } <= set(texts)


def test_the_boat_of_the_tests_is_what_it_seems() -> None:
    assert record_of(dinner(), Origin.LIVE).meal_id == DINNER_ID


async def test_a_meal_tied_to_a_dish_teaches_what_the_dish_takes(
    hass: HomeAssistant, boat: MockConfigEntry
) -> None:
    def known(dish: str) -> list[float]:
        cookbook = boat.runtime_data.coordinator._engine.outlook().view().cookbook
        return [cooking.energy_wh for cooking in cookbook.cookings(dish)]

    await act(hass, "label_meal", meal=DINNER_ID, dish="Bread")
    await hass.async_block_till_done()
    assert known("Bread") == [760]
    # An engine that comes out of the past is told again.
    await hass.services.async_call(DOMAIN, "backfill", {}, blocking=True)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert known("Bread") == [760]
    await act(hass, "label_meal", meal=DINNER_ID, dish="")
    await hass.async_block_till_done()
    assert known("Bread") == []
