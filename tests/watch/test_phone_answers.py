"""A phone that is registered with the platform itself: told by push, heard by its webhook.

Only the app is stood in for: the platform's own registration, notify action, push and
webhook carry the question out and the answer back. The event and its fields are those of
the platform's documentation (companion app, "Actionable notifications").
"""

from http import HTTPStatus
from typing import Any, Final

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.mobile_app.const import ATTR_TAG, CLEAR_NOTIFICATION
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockUser
from pytest_homeassistant_custom_component.test_util.aiohttp import AiohttpClientMocker
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from tests.at_home import fresh_token
from tests.watched import ASK, HOUR, PHONE, Galley, calls_heard, galley_entry

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

PUSH_URL: Final = "https://push.invalid/send"
SHOWN: Final = ("title", "message", "data")
REGISTRATION: Final = {
    "app_id": "deck_app",
    "app_name": "Deck app",
    "app_version": "1.0",
    "app_data": {"push_token": "cook", "push_url": PUSH_URL},
    "device_name": "Cook",
    "device_id": "cook-1",
    "manufacturer": "Anybody",
    "model": "Any",
    "os_name": "Any",
    "os_version": "1",
    "supports_encryption": False,
}


class GalleyWithPhone(Galley):
    """A galley whose relay is stood in for, and whose phone is not."""

    def _be_the_platform(self) -> None:
        self.hass.services.async_register("homeassistant", "turn_off", self._turn_off)


class Phone:
    """What the app on a phone does: it gets pushes, and posts to its webhook."""

    def __init__(
        self,
        hass: HomeAssistant,
        client: Any,
        pushed: AiohttpClientMocker,
        webhook_id: str,
    ) -> None:
        """Use a phone that is registered."""
        self._hass = hass
        self._client = client
        self._pushed = pushed
        self._webhook_id = webhook_id

    @classmethod
    async def registered(
        cls, hass: HomeAssistant, client: Any, pushed: AiohttpClientMocker
    ) -> Phone:
        """Register with the platform, as the app does."""
        pushed.post(PUSH_URL, status=HTTPStatus.CREATED, json={})
        answer = await client.post("/api/mobile_app/registrations", json=REGISTRATION)
        assert answer.status == HTTPStatus.CREATED
        webhook_id = (await answer.json())["webhook_id"]
        await hass.async_block_till_done(wait_background_tasks=True)
        return cls(hass, client, pushed, webhook_id)

    def told(self) -> list[dict[str, Any]]:
        """Return all that the platform pushed to the phone, without its addresses."""
        return [
            {key: value for key, value in pushed.items() if key in SHOWN}
            for _, _, pushed, _ in self._pushed.mock_calls
        ]

    async def posts(self, *payloads: Any, webhook_id: str | None = None) -> None:
        """Post to a webhook in quick succession; the platform takes whatever comes."""
        for payload in payloads:
            answer = await self._client.post(
                f"/api/webhook/{webhook_id or self._webhook_id}", json=payload
            )
            assert answer.status == HTTPStatus.OK
        await self._hass.async_block_till_done(wait_background_tasks=True)

    async def presses(self, message: dict[str, Any], *titles: str) -> None:
        """Press the buttons of these titles under a message in quick succession."""
        actions = {
            button["title"]: button["action"] for button in message["data"]["actions"]
        }
        tag = message["data"]["tag"]
        await self.posts(*(pressed(actions[title], tag=tag) for title in titles))


type Asked = tuple[GalleyWithPhone, Phone, dict[str, Any]]
"""A galley that asked, the phone, and the question as it reached that."""


def pressed(action: Any, **more: Any) -> dict[str, Any]:
    """Return what the app posts when a button with that action is pressed."""
    return {
        "type": "fire_event",
        "data": {
            "event_type": "mobile_app_notification_action",
            "event_data": {"action": action, **more},
        },
    }


@pytest.fixture
async def asked(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_client: ClientSessionGenerator,
    hass_admin_user: MockUser,
    aioclient_mock: AiohttpClientMocker,
) -> Asked:
    """Return a galley that asked whether to cut, the phone, and the question on it."""
    galley = GalleyWithPhone(hass, freezer, galley_entry(ASK))
    await galley.start()
    assert await async_setup_component(hass, "mobile_app", {})
    await hass.async_block_till_done(wait_background_tasks=True)
    client = await hass_client(fresh_token(hass, hass_admin_user))
    phone = await Phone.registered(hass, client, aioclient_mock)
    assert hass.services.has_service("notify", PHONE)
    await galley.become_known()
    (question,) = phone.told()
    assert question["title"] == "Galley 1 is still on"
    assert [button["title"] for button in question["data"]["actions"]] == [
        "Switch it off",
        "Keep it an hour",
    ]
    return galley, phone, question


async def test_a_button_on_the_phone_opens_the_relay(
    hass: HomeAssistant, asked: Asked
) -> None:
    galley, phone, question = asked
    await phone.presses(question, "Switch it off")
    (call,) = galley.relay_calls
    assert not galley.closed
    assert phone.told()[-1] == {
        "message": CLEAR_NOTIFICATION,
        "data": {ATTR_TAG: question["data"]["tag"]},
    }
    await galley.pass_time(60)
    assert galley.log()[-2:] == [("cut", "answer"), ("verified", "22 W")]
    # The logbook can tell whose phone it was.
    (user_id,) = {
        entry.data["user_id"]
        for entry in hass.config_entries.async_entries("mobile_app")
    }
    assert call.context.user_id == user_id


async def test_the_other_button_keeps_the_circuit(asked: Asked) -> None:
    galley, phone, question = asked
    await phone.presses(question, "Keep it an hour")
    assert galley.log()[-1][0] == "kept"
    assert phone.told()[-1]["message"] == CLEAR_NOTIFICATION
    await galley.pass_time(HOUR / 2, 60)
    assert not galley.relay_calls


async def test_a_button_pressed_twice_counts_once(asked: Asked) -> None:
    galley, phone, question = asked
    await phone.presses(question, "Switch it off", "Switch it off", "Keep it an hour")
    assert len(galley.relay_calls) == 1
    assert galley.log()[-1] == ("answer_rejected", "unknown")


def forged(entry_id: str, token: str) -> list[Any]:
    """Return what somebody might post who knows everything but the token, or too little."""
    cut = f"GALLEY_LOADS.CUT.{entry_id}"
    return [
        pressed(f"{cut}.0000000000000000"),
        pressed(f"{cut}.{token[:-1]}"),
        pressed(f"{cut}.{token.upper()}x"),
        pressed(f"GALLEY_LOADS.CUT.another.{token}"),
        pressed(f"GALLEY_LOADS.CLOSE.{entry_id}.{token}"),
        pressed([f"{cut}.{token}"]),
        pressed(None, reply_text=f"{cut}.{token}"),
        pressed("REPLY", reply_text="Switch it off"),
        {
            "type": "fire_event",
            "data": {"event_type": "mobile_app_notification_action"},
        },
        {
            "type": "fire_event",
            "data": {
                "event_type": "mobile_app_notification_cleared",
                "event_data": {"action": f"{cut}.{token}"},
            },
        },
        {"type": "fire_event", "data": {"event_data": {"action": f"{cut}.{token}"}}},
        {"type": "no_such_thing", "data": {"action": f"{cut}.{token}"}},
        [],
    ]


async def test_a_forged_answer_opens_nothing_and_spoils_no_true_one(
    asked: Asked,
) -> None:
    galley, phone, question = asked
    token = question["data"]["actions"][0]["action"].rsplit(".", 1)[1]
    for payload in forged(galley.entry.entry_id, token):
        await phone.posts(payload)
        assert not galley.relay_calls, payload
    # A webhook that nobody registered reaches nobody, token or not.
    true = question["data"]["actions"][0]["action"]
    await phone.posts(pressed(true), webhook_id="0" * 64)
    assert not galley.relay_calls
    assert galley.closed
    await phone.posts(pressed(true))
    assert len(galley.relay_calls) == 1


async def test_no_answer_by_webhook_ever_switches_on(
    hass: HomeAssistant, asked: Asked
) -> None:
    galley, phone, question = asked
    heard = calls_heard(hass)
    await phone.presses(question, "Switch it off")
    await phone.posts(*(pressed(one["action"]) for one in question["data"]["actions"]))
    await phone.posts(*forged(galley.entry.entry_id, "0" * 16))
    await galley.pass_time(60)
    assert not galley.closed
    acted = [call for call in heard if call[0] != "notify"]
    assert acted == [("homeassistant", "turn_off")]
