"""Messages to the crew: to whom, once, with which buttons, and taken back."""

from typing import Any
from zoneinfo import ZoneInfo

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.galley_loads.core.cutting import Answer, Trouble
from custom_components.galley_loads.core.occasions.circuit_occurrences import NOT_ASKED
from custom_components.galley_loads.core.occasions.message_filter import (
    MESSAGE_KINDS,
    Clear,
    Say,
)
from custom_components.galley_loads.core.occasions.occurrence import (
    Occurrence,
    OccurrenceKind,
)
from custom_components.galley_loads.watch.notifications import (
    Notifier,
    PhoneAnswer,
    action_id,
    phone_answer,
)
from custom_components.galley_loads.watch.watch_options import WatchOptions
from tests.at_home import LOAD, set_sensor
from tests.watched import PHONE, Galley, galley_entry, options

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

AZORES = ZoneInfo("Atlantic/Azores")
SAY = Say(
    "standby_left_on:Galley 1",
    Occurrence(
        OccurrenceKind.STANDBY_LEFT_ON,
        "Galley 1",
        "0",
        0.0,
        1.0,
        {"idle_s": 600.0, "standby_w": None, "day_ah": None, "token": "abc123"},
        NOT_ASKED,
    ),
    urgent=False,
)
STUCK = Say(
    "cut_failed:x",
    Occurrence(
        OccurrenceKind.CUT_FAILED,
        "x",
        "0",
        0.0,
        1.0,
        variant=Trouble.RELAY_DID_NOT_OPEN.value,
    ),
    urgent=True,
)


def notifier(hass: HomeAssistant, **alerts: Any) -> tuple[Notifier, list[ServiceCall]]:
    sent: list[ServiceCall] = []
    hass.services.async_register("notify", PHONE, sent.append)
    hass.services.async_register("notify", "send_message", sent.append)
    chosen = WatchOptions.of(options(**alerts))
    return Notifier(hass, "01BOAT", chosen, AZORES), sent


async def test_a_phone_gets_a_tag_and_the_buttons_of_the_question(
    hass: HomeAssistant,
) -> None:
    told, sent = notifier(hass)
    await told.async_send([SAY])
    (call,) = sent
    assert call.service == PHONE
    assert call.data == {
        "title": "Galley 1 is still on",
        "message": "Nobody has cooked on Galley 1 for 10 min.",
        "data": {
            "tag": "galley_loads.01BOAT.standby_left_on:Galley 1",
            "actions": [
                {"action": "GALLEY_LOADS.CUT.01BOAT.abc123", "title": "Switch it off"},
                {
                    "action": "GALLEY_LOADS.KEEP.01BOAT.abc123",
                    "title": "Keep it an hour",
                },
            ],
        },
    }


async def test_a_message_is_taken_back_by_its_tag(hass: HomeAssistant) -> None:
    told, sent = notifier(hass, notify_entities=["notify.deck"])
    await told.async_send([SAY, Clear(SAY.tag)])
    first, entity, cleared = sent
    assert cleared.data["message"] == "clear_notification"
    assert cleared.data["data"]["tag"] == first.data["data"]["tag"]
    # A notify entity has no tag; it gets title and text, once.
    assert entity.data == {
        "entity_id": "notify.deck",
        "title": "Galley 1 is still on",
        "message": "Nobody has cooked on Galley 1 for 10 min.",
    }


async def test_an_urgent_message_wakes(hass: HomeAssistant) -> None:
    told, sent = notifier(hass)
    await told.async_send([STUCK])
    data = sent[0].data["data"]
    assert data["priority"] == "high"
    assert data["push"] == {"interruption-level": "time-sensitive"}
    assert "actions" not in data


async def test_a_phone_that_is_away_is_noted_once_and_keeps_nobody_else_waiting(
    hass: HomeAssistant, caplog: pytest.LogCaptureFixture
) -> None:
    told, sent = notifier(hass, notify_entities=["notify.deck"])

    async def fail(call: ServiceCall) -> None:
        raise HomeAssistantError("no network")

    hass.services.async_register("notify", PHONE, fail)
    await told.async_send([SAY])
    await told.async_send([SAY])
    assert [call.service for call in sent] == ["send_message"] * 2
    assert caplog.text.count("mobile_app_cook cannot be told") == 1
    hass.services.async_register("notify", PHONE, sent.append)
    await told.async_send([SAY])
    assert [call.service for call in sent][-2:] == [PHONE, "send_message"]


async def test_a_receiver_that_never_existed_does_no_harm(
    hass: HomeAssistant, caplog: pytest.LogCaptureFixture
) -> None:
    told, sent = notifier(hass, notify_entities=["notify.deck"])
    hass.services.async_remove("notify", PHONE)
    await told.async_send([SAY])
    # It is noted, and whoever comes after it is told all the same.
    assert "mobile_app_cook cannot be told" in caplog.text
    assert [call.service for call in sent] == ["send_message"]


@pytest.mark.parametrize("answer", list(Answer))
def test_a_button_is_read_back_as_what_it_was_made_for(answer: Answer) -> None:
    pressed = phone_answer("01BOAT", {"action": action_id("01BOAT", answer, "abc")})
    assert pressed == PhoneAnswer(answer, "abc")


@pytest.mark.parametrize("action", [None, 5, "", "CUT", "GALLEY_LOADS.CUT.02BOAT.abc"])
def test_other_buttons_are_none_of_ours(action: Any) -> None:
    assert phone_answer("01BOAT", {"action": action}) is None
    assert phone_answer("01BOAT", {}) is None


# The whole way, from a reading to a phone.


async def test_a_hostile_name_arrives_as_plain_words(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    name = "<b>{{ states('lock.door') }}</b> [Gälley](http://x) 1"
    galley = Galley(hass, freezer, galley_entry({"cut": "ask"}))
    for subentry in galley.entry.subentries.values():
        if subentry.title == "Galley 1":
            object.__setattr__(subentry, "title", name)
    await galley.start()
    await galley.become_known()
    (message,) = galley.messages()
    assert message["title"].isprintable()
    assert not set(message["title"] + message["message"]) & set("<>{}[]")
    await galley.press(galley.buttons()["Switch it off"])
    assert len(galley.relay_calls) == 1


async def test_readings_lost_while_cooking_reach_the_phone(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = Galley(hass, freezer, galley_entry({"cut": "never"}))
    await galley.start()
    await galley.pass_time(120, 30)
    galley.cooking_w = 1500
    await galley.pass_time(90)
    assert hass.states.get("binary_sensor.kettle_running").state == "on"
    galley.silent = True
    set_sensor(hass, LOAD, "unavailable")
    await galley.pass_time(150)
    (lost,) = [
        m for m in galley.messages() if m.get("title") == "I cannot see the galley"
    ]
    assert "Kettle was on" in lost["message"]
    galley.silent, galley.cooking_w = False, 0
    await galley.pass_time(60)
    cleared = [m["data"]["tag"] for m in galley.messages() if "title" not in m]
    assert lost["data"]["tag"] in cleared


async def test_the_alert_event_tells_automations_what_the_crew_is_told(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    entity_registry: er.EntityRegistry,
) -> None:
    galley = Galley(hass, freezer, galley_entry({"cut": "ask"}))
    await galley.start()
    entity_registry.async_update_entity("event.kittiwake_alert", disabled_by=None)
    await galley.restart()
    await galley.become_known()
    state = hass.states.get("event.kittiwake_alert")
    assert state.attributes["event_type"] == "standby_left_on"
    assert state.attributes["subject"] == "Galley 1"
    assert state.attributes["urgent"] is False


async def test_the_options_are_asked_kept_and_obeyed(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = Galley(
        hass, freezer, galley_entry({"cut": "ask"}, {"meal_gap_minutes": 40})
    )
    await galley.start()
    form = await hass.config_entries.options.async_init(galley.entry.entry_id)
    assert form["type"] is FlowResultType.FORM
    phones = form["data_schema"].schema["alerts"].schema.schema["phones"]
    assert {one["label"] for one in phones.config["options"]} == {"Cook"}
    alerts = {"phones": [PHONE], "kinds": ["meal_finished"]}
    half = await hass.config_entries.options.async_configure(
        form["flow_id"],
        {"meal_gap_minutes": 30, "alerts": {**alerts, "quiet_start": "23:00:00"}},
    )
    assert half["errors"] == {"base": "half_quiet_hours"}
    done = await hass.config_entries.options.async_configure(
        form["flow_id"], {"meal_gap_minutes": 30, "alerts": alerts}
    )
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)
    kept = WatchOptions.of(galley.entry.options)
    assert kept.phones == (PHONE,)
    assert kept.kinds == {OccurrenceKind.MEAL_FINISHED}
    assert kept.quiet_hours is None
    assert not kept.cut_in_quiet_hours
    await galley.become_known()
    assert not galley.messages()


def test_without_options_quiet_is_the_night_and_nobody_is_told() -> None:
    chosen = WatchOptions.of({})
    assert chosen.phones == chosen.notify_entities == ()
    assert chosen.kinds == set(MESSAGE_KINDS)
    assert chosen.quiet_hours is not None
    assert chosen.quiet_hours.start.hour == 22


def test_a_kind_of_an_older_version_is_passed_over() -> None:
    chosen = WatchOptions.of({"alerts": {"kinds": ["finished", "gone_by"]}})
    assert chosen.kinds == {OccurrenceKind.FINISHED}
