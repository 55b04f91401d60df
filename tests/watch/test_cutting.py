"""Circuits in the platform: cut, refused, stuck, kept."""

from datetime import UTC, datetime
import time
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
import pytest

from custom_components.galley_loads.core.cutting import Reason
from custom_components.galley_loads.repairs.relay_repair import RelayStuckFlow
from tests.at_home import RELAY, set_sensor
from tests.issue_steps import Fixer
from tests.watched import AUTO, CUT_STATE, HOUR, act, press, started, stuck_issue

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_an_idle_circuit_is_cut_and_its_saving_counted(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.pass_time(34 * 60, 60)
    await galley.pass_time(30)
    assert [dict(call.data) for call in galley.relay_calls] == [{"entity_id": RELAY}]
    assert not galley.closed
    assert galley.log() == [
        ("refused", "resting_unknown"),
        ("cut", "rule"),
        ("verified", "22 W"),
    ]
    state = hass.states.get(CUT_STATE)
    assert state.attributes["event_type"] == "verified"
    assert state.attributes["fell_w"] == pytest.approx(22, abs=1)
    await galley.pass_time(HOUR, 60)
    await galley.restart()
    saved_kwh = float(hass.states.get("sensor.galley_1_standby_saved").state)
    assert saved_kwh == pytest.approx(0.022, rel=0.1)
    total = float(hass.states.get("sensor.kittiwake_standby_saved").state)
    assert total == pytest.approx(saved_kwh)


async def test_cooking_keeps_the_circuit(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.pass_time(240, 60)
    galley.cooking_w = 1500
    await galley.pass_time(2400, 60)
    assert not galley.relay_calls
    with pytest.raises(ServiceValidationError):
        await act(hass, "cut_now", circuit="Galley 1")


@pytest.mark.parametrize(
    ("circuit", "reason"),
    [
        ({"cut": "never"}, Reason.NEVER),
        ({**AUTO, "other_loads": True}, Reason.OTHER_LOADS),
    ],
)
async def test_what_may_never_be_cut_is_refused_to_a_person_too(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    circuit: dict[str, Any],
    reason: Reason,
) -> None:
    galley = await started(hass, freezer, circuit)
    await galley.become_known()
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, "cut_now", circuit="galley 1")
    assert refused.value.translation_key == f"cut_{reason.value}"
    with pytest.raises(ServiceValidationError):
        await press(hass, "button.galley_1_cut_now")
    assert not galley.relay_calls
    assert galley.log()[-1] == ("refused", reason.value)
    state = hass.states.get(CUT_STATE)
    assert state.attributes["event_type"] == "refused"
    assert state.attributes["reason"] == reason.value


async def test_readings_that_stop_keep_the_circuit(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.pass_time(9 * 60, 60)
    galley.silent = True
    await galley.pass_time(HOUR, 60)
    assert not galley.relay_calls
    assert ("refused", "readings_stale") in galley.log()


async def test_a_relay_that_is_away_keeps_the_circuit(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    set_sensor(hass, RELAY, "unavailable")
    await galley.become_known()
    assert not galley.relay_calls
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, "cut_now", circuit="Galley 1")
    assert refused.value.translation_key == "cut_relay_unknown"


async def test_a_person_need_not_wait_for_the_idle_minutes(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, {**AUTO, "idle_minutes": 600})
    await galley.become_known()
    await press(hass, "button.galley_1_cut_now")
    assert len(galley.relay_calls) == 1
    assert galley.log()[-1] == ("cut", "person")


async def test_a_welded_contact_becomes_a_repair_and_is_not_tried_again(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, fixer: Fixer
) -> None:
    galley = await started(hass, freezer, AUTO)
    galley.welded = True
    await galley.become_known()
    await galley.pass_time(60)
    issue = stuck_issue(galley)
    assert issue is not None
    assert issue.translation_key == "relay_stuck_draw_did_not_fall"
    assert galley.messages()[-1]["title"] == "Galley 1 may still be on"
    set_sensor(hass, RELAY, "on")
    await galley.pass_time(HOUR, 60)
    assert len(galley.relay_calls) == 1

    # It stays known over a restart, until somebody has looked.
    await galley.restart()
    assert stuck_issue(galley) is not None
    form = await fixer.fix(issue)
    assert (form["type"], form["step_id"]) == ("form", "confirm")
    assert form["description_placeholders"]["circuit"] == "Galley 1"
    assert stuck_issue(galley) is not None
    unread = await fixer.fix(issue, {"looked_at": False})
    assert unread["errors"] == {"looked_at": "not_looked_at"}
    await galley.pass_time(HOUR, 60)
    assert stuck_issue(galley) is not None
    assert len(galley.relay_calls) == 1
    done = await fixer.fix(issue, {"looked_at": True})
    assert done["type"] == "create_entry"
    assert stuck_issue(galley) is None
    galley.welded = False
    await galley.pass_time(20 * 60, 60)
    assert len(galley.relay_calls) == 2


async def test_a_repair_of_a_boat_that_is_gone_ends_at_once(
    hass: HomeAssistant,
) -> None:
    flow = RelayStuckFlow("gone", "gone")
    flow.hass = hass
    assert (await flow.async_step_init())["type"] is FlowResultType.CREATE_ENTRY


async def test_a_relay_that_does_not_open_becomes_a_repair(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    galley.obeys = False
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    issue = stuck_issue(galley)
    assert issue is not None
    assert issue.translation_key == "relay_stuck_relay_did_not_open"
    assert len(galley.relay_calls) == 1


async def test_a_relay_that_cannot_be_called_becomes_a_repair(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    calls: list[ServiceCall] = []

    async def fail(call: ServiceCall) -> None:
        calls.append(call)
        raise HomeAssistantError("the bus is down")

    hass.services.async_register("homeassistant", "turn_off", fail)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    assert len(calls) == 1
    assert stuck_issue(galley) is not None


async def test_the_keep_button_keeps_for_an_hour(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.pass_time(60)
    await press(hass, "button.galley_1_keep_on_for_an_hour")
    kept = hass.states.get(CUT_STATE)
    assert kept.attributes["event_type"] == "kept"
    await galley.pass_time(55 * 60, 60)
    assert not galley.relay_calls
    assert galley.log()[-1] == ("refused", "kept")
    await galley.pass_time(10 * 60, 60)
    assert len(galley.relay_calls) == 1


async def test_leave_it_on_until_nine_means_nine_by_the_boats_clock(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.pass_time(60)
    await act(hass, "keep_circuit", circuit="Galley 1", until="21:00:00")
    until_s = galley.circuits.rules.keep_until_s("Galley 1")
    # The Azores keep UTC in summer.
    assert datetime.fromtimestamp(until_s, UTC) == datetime(2026, 5, 11, 21, tzinfo=UTC)
    await act(hass, "keep_circuit", circuit="Galley 1", until="09:00:00")
    until_s = galley.circuits.rules.keep_until_s("Galley 1")
    assert datetime.fromtimestamp(until_s, UTC) == datetime(2026, 5, 12, 9, tzinfo=UTC)
    await act(hass, "keep_circuit", circuit="Galley 1", duration={"minutes": 90})
    kept_s = galley.circuits.rules.keep_until_s("Galley 1") - time.time()
    assert kept_s == pytest.approx(5400, abs=1)
    await act(hass, "keep_circuit", circuit="Galley 1")
    kept_s = galley.circuits.rules.keep_until_s("Galley 1") - time.time()
    assert kept_s == pytest.approx(3600, abs=1)


BAD_INPUT: list[tuple[str, dict[str, Any], str]] = [
    ("keep_circuit", {"circuit": "Galley 9"}, "circuit_unknown"),
    ("cut_now", {"circuit": "{{ x }}"}, "circuit_unknown"),
    (
        "keep_circuit",
        {"circuit": "Galley 1", "duration": {"days": 30}},
        "keep_out_of_range",
    ),
    (
        "keep_circuit",
        {"circuit": "Galley 1", "duration": {"seconds": 0}},
        "keep_out_of_range",
    ),
    ("set_timer", {"appliance": "Sauna", "minutes": 5}, "appliance_unknown"),
    ("set_timer", {"appliance": "Kettle", "minutes": 5}, "timer_impossible"),
    ("set_timer", {"appliance": "Oven", "minutes": -5}, "timer_impossible"),
    ("cancel_timer", {"appliance": "Oven"}, "timer_none"),
]


async def test_actions_with_bad_input_say_what_is_wrong(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    await started(hass, freezer, AUTO)
    for action, data, key in BAD_INPUT:
        with pytest.raises(ServiceValidationError) as wrong:
            await act(hass, action, **data)
        assert wrong.value.translation_key == key, (action, data)


async def test_switching_back_on_is_a_wish_to_keep(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    assert not galley.closed
    set_sensor(hass, RELAY, "on")
    await galley.pass_time(HOUR, 60)
    assert len(galley.relay_calls) == 1
    assert ("kept", "switched_back") in galley.log()
