"""Who may do what: every action, the files, a button, a repair, by four kinds of people."""

from typing import Any, Final

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.repairs import DOMAIN as REPAIRS_DOMAIN
from homeassistant.components.websocket_api import DOMAIN as WEBSOCKET_DOMAIN
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, Unauthorized, UnknownUser
from homeassistant.helpers import intent, issue_registry as ir
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.typing import (
    ClientSessionGenerator,
    WebSocketGenerator,
)

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.intents import INTENT_MAY_I_COOK
from tests.at_home import RELAY, boat_at_rest
from tests.book_at_home import DINNER_ID, LUNCH_ID
from tests.people_aboard import Who, act_as, person, token_of, with_policy
from tests.watched import ASK, started, stuck_issue

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

READERS: Final = {Who.ADMINISTRATOR, Who.USER, Who.READ_ONLY}
CREW: Final = {Who.ADMINISTRATOR, Who.USER}
AT_THE_RELAY: Final = {Who.ADMINISTRATOR, Who.USER, Who.RELAY_ALONE}
ADMINISTRATORS: Final = {Who.ADMINISTRATOR}

MEAL: Final = {"meal": LUNCH_ID}
CIRCUIT: Final = {"circuit": "Galley 1"}
OVEN: Final = {"appliance": "Oven"}

ACTIONS: Final[dict[str, tuple[dict[str, Any], set[Who]]]] = {
    "advise": ({"dish": "Bread"}, READERS),
    "plan_day": ({"dishes": ["Bread"]}, READERS),
    "what_if": ({"reserve": 20}, READERS),
    "list_meals": ({}, READERS),
    "sum_meals": ({}, READERS),
    "export_meals": ({}, READERS),
    "get_cut_log": ({}, READERS),
    "label_meal": ({**MEAL, "label": "x"}, CREW),
    "split_meal": ({**MEAL, "at": "2026-05-12 12:02"}, CREW),
    "join_meals": ({"meals": [LUNCH_ID, DINNER_ID]}, CREW),
    "delete_meal": (MEAL, CREW),
    "set_timer": ({**OVEN, "minutes": 5}, CREW),
    "cancel_timer": (OVEN, CREW),
    "keep_circuit": (CIRCUIT, AT_THE_RELAY),
    "cut_now": (CIRCUIT, AT_THE_RELAY),
    "start_learning": (OVEN, ADMINISTRATORS),
    "stop_learning": ({}, ADMINISTRATORS),
    "forget_learned": (OVEN, ADMINISTRATORS),
    "backfill": ({}, ADMINISTRATORS),
    "stop_backfill": ({}, ADMINISTRATORS),
    "export_boat": ({}, ADMINISTRATORS),
}


async def may(
    hass: HomeAssistant, who: Who, domain: str, action: str, data: dict[str, Any]
) -> bool:
    """Return whether the platform lets somebody do it, whatever else is wrong with it."""
    user = await person(hass, who, RELAY)
    try:
        await act_as(hass, user, domain, action, **data)
    except Unauthorized:
        return False
    except HomeAssistantError:
        pass  # a meal that is not there, a galley that is not known yet
    return True


async def test_every_action_asks_for_its_rights(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    assert set(hass.services.async_services_for_domain(DOMAIN)) == set(ACTIONS)
    for action, (data, allowed) in ACTIONS.items():
        found = {who for who in Who if await may(hass, who, DOMAIN, action, data)}
        assert found == allowed, action


async def test_there_is_no_way_in_beside_those_that_are_tried_here(
    hass: HomeAssistant, hass_ws_client: WebSocketGenerator
) -> None:
    """Whoever adds a command or an address adds its rights to these tests."""
    await boat_at_rest(hass)
    await hass_ws_client(hass)
    commands = [name for name in hass.data[WEBSOCKET_DOMAIN] if name.startswith(DOMAIN)]
    assert commands == []
    resources = hass.http.app.router.resources()
    addresses = {resource.canonical for resource in resources}
    assert {one for one in addresses if DOMAIN in one} == {
        "/api/galley_loads/{entry_id}/meals.{form}"
    }


async def test_an_automation_may_do_everything(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    await hass.services.async_call(DOMAIN, "keep_circuit", CIRCUIT, blocking=True)
    answer = await hass.services.async_call(
        DOMAIN, "export_boat", {}, blocking=True, return_response=True
    )
    assert "38.53" in answer["boat_file"]


async def test_somebody_who_was_removed_may_do_nothing(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    with pytest.raises(UnknownUser):
        await hass.services.async_call(
            DOMAIN,
            "list_meals",
            {},
            blocking=True,
            return_response=True,
            context=Context(user_id="gone"),
        )


@pytest.mark.parametrize("who", Who)
async def test_the_files_of_the_book_are_for_those_who_may_read_the_boat(
    hass: HomeAssistant, hass_client: ClientSessionGenerator, who: Who
) -> None:
    entry = await boat_at_rest(hass)
    client = await hass_client(await token_of(hass, await person(hass, who, RELAY)))
    for form in ("csv", "json"):
        answer = await client.get(f"/api/{DOMAIN}/{entry.entry_id}/meals.{form}")
        assert answer.status == (200 if who in READERS else 401)


async def test_part_of_the_boats_entities_is_not_the_boat(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    one_tile = {"sensor.kittiwake_galley_energy": {"read": True}}
    user = with_policy(hass, {"entities": {"entity_ids": one_tile}})
    with pytest.raises(Unauthorized):
        await act_as(hass, user, DOMAIN, "list_meals")


@pytest.mark.parametrize(
    ("button", "allowed"),
    [
        ("button.galley_1_keep_on_for_an_hour", CREW),
        ("button.galley_1_cut_now", CREW),
        ("button.oven_learn", ADMINISTRATORS),
    ],
)
async def test_buttons_ask_for_the_same_rights_as_actions(
    hass: HomeAssistant, button: str, allowed: set[Who]
) -> None:
    await boat_at_rest(hass)
    assert hass.states.get(button) is not None
    pressed = {"entity_id": button}
    found = {who for who in Who if await may(hass, who, "button", "press", pressed)}
    assert found == allowed


@pytest.mark.parametrize("who", Who)
async def test_a_stuck_relay_is_confirmed_by_administrators(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    who: Who,
) -> None:
    galley = await started(hass, freezer, ASK)
    galley.circuits._carry_out(
        galley.circuits.rules.failed("Galley 1", freezer().timestamp())
    )
    issue = stuck_issue(galley)
    assert issue is not None
    assert await async_setup_component(hass, REPAIRS_DOMAIN, {})
    client = await hass_client(await token_of(hass, await person(hass, who, RELAY)))
    begun = await client.post(
        "/api/repairs/issues/fix",
        json={"handler": DOMAIN, "issue_id": issue.issue_id},
    )
    assert begun.status == (200 if who in ADMINISTRATORS else 401)
    assert ir.async_get(hass).async_get_issue(DOMAIN, issue.issue_id) is not None


@pytest.mark.parametrize("who", Who)
async def test_the_question_in_words_is_for_readers(
    hass: HomeAssistant, who: Who
) -> None:
    await boat_at_rest(hass)
    user = await person(hass, who, RELAY)
    response = await intent.async_handle(
        hass,
        "test",
        INTENT_MAY_I_COOK,
        {"dish": {"value": "Bread"}},
        context=Context(user_id=user.id),
    )
    is_error = response.response_type is intent.IntentResponseType.ERROR
    assert is_error is (who not in READERS)


async def test_the_interface_hears_that_it_is_not_allowed(
    hass: HomeAssistant, hass_ws_client: WebSocketGenerator
) -> None:
    await boat_at_rest(hass)
    reader = await person(hass, Who.READ_ONLY, RELAY)
    client = await hass_ws_client(hass, await token_of(hass, reader))
    await client.send_json_auto_id(
        {
            "type": "call_service",
            "domain": DOMAIN,
            "service": "delete_meal",
            "service_data": MEAL,
        }
    )
    answer = await client.receive_json()
    assert not answer["success"]
    assert answer["error"]["message"] == Unauthorized.__name__
