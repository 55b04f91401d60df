"""A cut that the platform does not permit: nothing is switched, and nothing is stuck."""

from http import HTTPStatus
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import Context, HomeAssistant, ServiceCall
from homeassistant.exceptions import Unauthorized
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockUser
from pytest_homeassistant_custom_component.typing import (
    ClientSessionGenerator,
    WebSocketGenerator,
)

from custom_components.galley_loads.watch.notifications import EVENT_PHONE_ACTION
from tests.at_home import set_sensor, set_sensors, start_boat
from tests.people_aboard import act_as, token_of, with_policy
from tests.watched import (
    ASK,
    AUTO,
    CUT_STATE,
    REST_W,
    STANDBY_W,
    START,
    Galley,
    galley_entry,
    started,
    stuck_issue,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

HELPER = "input_boolean.galley_breaker"
NOT_THE_RELAY = {
    "entities": {"domains": {"sensor": True, "button": True, "event": True}}
}


class GalleyWithHelper(Galley):
    """A galley whose relay is an entity of the platform, with its own permissions."""

    def _be_the_platform(self) -> None:
        self.hass.services.async_register("notify", "mobile_app_cook", self.sent.append)

    @property
    def closed(self) -> bool:
        """Whether the relay says that it is closed."""
        return self.hass.states.get(HELPER).state == "on"

    async def start(self) -> None:
        """Set everything up, the relay first."""
        self.freezer.move_to(START)
        helper = {"galley_breaker": {"initial": True}}
        assert await async_setup_component(
            self.hass, "input_boolean", {"input_boolean": helper}
        )
        self._be_the_platform()
        set_sensors(self.hass, REST_W + STANDBY_W)
        await start_boat(self.hass, self.entry)


async def galley_with_helper(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, circuit: dict[str, Any]
) -> GalleyWithHelper:
    galley = GalleyWithHelper(hass, freezer, galley_entry({**circuit, "relay": HELPER}))
    await galley.start()
    await galley.become_known()
    assert galley.closed
    return galley


@pytest.fixture
def crew(hass: HomeAssistant) -> MockUser:
    """Somebody who may see and press everything, and not control the relay."""
    return with_policy(hass, NOT_THE_RELAY)


BY_ACTION = ("galley_loads", "cut_now", {"circuit": "galley 1"})
BY_BUTTON = ("button", "press", {"entity_id": "button.galley_1_cut_now"})


@pytest.mark.parametrize(("domain", "action", "data"), [BY_ACTION, BY_BUTTON])
async def test_a_cut_that_is_not_permitted_leaves_nothing_stuck(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    crew: MockUser,
    domain: str,
    action: str,
    data: dict[str, str],
) -> None:
    galley = await galley_with_helper(hass, freezer, {**ASK, "idle_minutes": 600})
    with pytest.raises(Unauthorized):
        await act_as(hass, crew, domain, action, **data)
    assert galley.closed
    assert galley.log()[-1] == ("refused", "not_permitted")
    assert hass.states.get(CUT_STATE).attributes["reason"] == "not_permitted"
    assert stuck_issue(galley) is None
    assert galley.circuits.rules.stuck("Galley 1") is None

    # Whoever may control the relay cuts right after.
    at_the_relay = with_policy(hass, {"entities": {"entity_ids": {HELPER: True}}})
    await act_as(hass, at_the_relay, "galley_loads", "cut_now", circuit="Galley 1")
    assert not galley.closed
    assert galley.log()[-1] == ("cut", "person")


async def test_the_interface_and_the_web_hear_that_a_cut_is_not_permitted(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    crew: MockUser,
    hass_client: ClientSessionGenerator,
    hass_ws_client: WebSocketGenerator,
) -> None:
    galley = await galley_with_helper(hass, freezer, {**ASK, "idle_minutes": 600})
    for way in ("api", "websocket_api"):
        assert await async_setup_component(hass, way, {})
    token = await token_of(hass, crew)
    web = await hass_client(token)
    answer = await web.post(
        "/api/services/galley_loads/cut_now", json={"circuit": "Galley 1"}
    )
    assert answer.status == HTTPStatus.UNAUTHORIZED
    interface = await hass_ws_client(hass, token)
    await interface.send_json_auto_id(
        {
            "type": "call_service",
            "domain": "button",
            "service": "press",
            "target": {"entity_id": "button.galley_1_cut_now"},
        }
    )
    told = await interface.receive_json()
    assert told["error"]["message"] == Unauthorized.__name__
    assert galley.closed
    assert galley.log()[-2:] == [("refused", "not_permitted")] * 2
    assert stuck_issue(galley) is None


async def test_a_question_stays_open_when_somebody_without_rights_answers(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, crew: MockUser
) -> None:
    galley = await galley_with_helper(hass, freezer, ASK)
    await galley.pass_time(60)
    buttons = galley.buttons()
    for title in ("Switch it off", "Keep it an hour"):
        hass.bus.async_fire(
            EVENT_PHONE_ACTION,
            {"action": buttons[title]},
            context=Context(user_id=crew.id),
        )
        await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.closed
    assert galley.log()[-2:] == [("asked", ""), ("refused", "not_permitted")]
    assert stuck_issue(galley) is None
    await galley.press(buttons["Switch it off"])
    assert not galley.closed
    assert galley.log()[-1] == ("cut", "answer")


async def test_a_relay_that_refuses_by_right_is_not_stuck_and_not_asked_again(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    refused: list[ServiceCall] = []

    async def refuse(call: ServiceCall) -> None:
        refused.append(call)
        raise Unauthorized(context=call.context)

    galley = await started(hass, freezer, AUTO)
    hass.services.async_register("homeassistant", "turn_off", refuse)
    await galley.become_known()
    await galley.pass_time(300, 30)
    assert len(refused) == 1
    assert galley.log()[-2:] == [("cut", "rule"), ("refused", "not_permitted")]
    assert stuck_issue(galley) is None
    assert not [m for m in galley.messages() if "may still be on" in m.get("title", "")]

    # Neither is it after a restart; and in the next idle spell the rule tries once more.
    await galley.restart()
    await galley.pass_time(300, 30)
    assert len(refused) == 1
    galley.cooking_w = 1500
    await galley.pass_time(300, 10)
    galley.cooking_w = 0
    await galley.pass_time(40 * 60, 30)
    assert len(refused) == 2


async def test_a_relay_that_fails_is_still_stuck(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, {**AUTO, "idle_minutes": 600})
    await galley.become_known()
    galley.obeys = False
    await act_as_nobody(hass)
    set_sensor(hass, "sensor.bank_voltage", 13.01)
    await galley.pass_time(60)
    assert stuck_issue(galley) is not None


async def act_as_nobody(hass: HomeAssistant) -> None:
    """Cut as an automation does: without a user."""
    await hass.services.async_call(
        "galley_loads", "cut_now", {"circuit": "Galley 1"}, blocking=True
    )
