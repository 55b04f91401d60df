"""Circuits in the platform: cut, refused, asked about, stuck, kept."""

from datetime import UTC, datetime
import time
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import entity_registry as er, issue_registry as ir
import pytest

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.cutting import Reason
from custom_components.galley_loads.galley_watch import issue_id
from custom_components.galley_loads.relay_repair import RelayStuckFlow
from custom_components.galley_loads.repairs import async_create_fix_flow

from .at_home import RELAY, set_sensor, subentry_id
from .watched import CUT_STATE, Galley, galley_entry, options

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

AUTO = {"cut": "auto", "idle_minutes": 10}
ASK = {"cut": "ask", "idle_minutes": 10}
HOUR = 3600


async def started(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    circuit: dict[str, Any],
    **changes: Any,
) -> Galley:
    galley = Galley(hass, freezer, galley_entry(circuit, **changes))
    await galley.start()
    return galley


async def act(hass: HomeAssistant, action: str, **data: Any) -> Any:
    return await hass.services.async_call(DOMAIN, action, data, blocking=True)


async def press(hass: HomeAssistant, entity_id: str) -> None:
    await hass.services.async_call(
        "button", "press", {"entity_id": entity_id}, blocking=True
    )
    await hass.async_block_till_done(wait_background_tasks=True)


def stuck_issue(galley: Galley) -> ir.IssueEntry | None:
    registry = ir.async_get(galley.hass)
    return registry.async_get_issue(
        DOMAIN, issue_id(subentry_id(galley.entry, "Galley 1"))
    )


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


# The relay's own trouble.


async def test_a_welded_contact_becomes_a_repair_and_is_not_tried_again(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
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
    flow = await async_create_fix_flow(hass, issue.issue_id, issue.data)
    flow.hass = hass
    form = await flow.async_step_init()
    assert form["description_placeholders"]["circuit"] == "Galley 1"
    done = await flow.async_step_init({})
    assert done["type"] is FlowResultType.CREATE_ENTRY
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


# Keeping.


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
    until_s = galley.watch.desk.keep_until_s("Galley 1")
    # The Azores keep UTC in summer.
    assert datetime.fromtimestamp(until_s, UTC) == datetime(2026, 5, 11, 21, tzinfo=UTC)
    await act(hass, "keep_circuit", circuit="Galley 1", until="09:00:00")
    until_s = galley.watch.desk.keep_until_s("Galley 1")
    assert datetime.fromtimestamp(until_s, UTC) == datetime(2026, 5, 12, 9, tzinfo=UTC)
    await act(hass, "keep_circuit", circuit="Galley 1", duration={"minutes": 90})
    kept_s = galley.watch.desk.keep_until_s("Galley 1") - time.time()
    assert kept_s == pytest.approx(5400, abs=1)
    await act(hass, "keep_circuit", circuit="Galley 1")
    kept_s = galley.watch.desk.keep_until_s("Galley 1") - time.time()
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


# Questions.


async def asked(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> Galley:
    galley = await started(hass, freezer, ASK)
    await galley.become_known()
    assert hass.states.get(CUT_STATE).attributes["event_type"] == "asked"
    assert set(galley.buttons()) == {"Switch it off", "Keep it an hour"}
    return galley


async def test_the_answer_from_a_phone_cuts(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    assert not galley.relay_calls
    await galley.press(galley.buttons()["Switch it off"])
    assert len(galley.relay_calls) == 1
    # The question is taken back from the phone.
    last = galley.messages()[-1]
    assert last["message"] == "clear_notification"
    await galley.pass_time(60)
    assert galley.log()[-2:] == [("cut", "answer"), ("verified", "22 W")]


async def test_a_replayed_answer_does_nothing(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    buttons = galley.buttons()
    await galley.press(buttons["Keep it an hour"])
    assert galley.log()[-1][0] == "kept"
    await galley.press(buttons["Switch it off"])
    await galley.pass_time(HOUR, 60)
    await galley.press(buttons["Switch it off"])
    assert not galley.relay_calls
    assert galley.log()[-1] == ("answer_rejected", "unknown")


async def test_a_question_outlives_a_restart(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    button = galley.buttons()["Switch it off"]
    sent = len(galley.messages())
    await galley.restart()
    await galley.pass_time(60)
    assert len(galley.messages()) == sent  # not asked twice
    await galley.press(button)
    assert len(galley.relay_calls) == 1


async def test_an_answer_right_after_a_start_waits_for_the_readings(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    button = galley.buttons()["Switch it off"]
    await galley.restart()
    galley.watch._present._seen = None
    await galley.press(button)
    assert not galley.relay_calls
    await galley.pass_time(20)
    assert len(galley.relay_calls) == 1


async def test_an_answer_after_cooking_began_is_refused(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    button = galley.buttons()["Switch it off"]
    galley.cooking_w = 1450
    await galley.pass_time(10)
    await galley.press(button)
    assert not galley.relay_calls


FROM_NOWHERE: list[Any] = [
    None,
    7,
    ["GALLEY_LOADS"],
    "",
    "GALLEY_LOADS.CUT",
    "GALLEY_LOADS.CUT.{entry}.",
    "GALLEY_LOADS.CUT.{entry}.0000000000000000",
    "GALLEY_LOADS.ON.{entry}.{token}",
    "GALLEY_LOADS.CUT.other.{token}",
    "GALLEY_LOADS.CUT.{entry}.{token}.x",
    "GALLEY_LOADS.CUT.{entry}." + "9" * 5000,
]


async def test_answers_from_nowhere_do_nothing(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    token = galley.buttons()["Switch it off"].rsplit(".", 1)[1]
    for answer in FROM_NOWHERE:
        if isinstance(answer, str):
            answer = answer.format(entry=galley.entry.entry_id, token=token)
        await galley.press(answer)
        assert not galley.relay_calls
    assert galley.closed
    await galley.press(galley.buttons()["Switch it off"])
    assert len(galley.relay_calls) == 1


async def test_the_log_can_be_asked_for(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await asked(hass, freezer)
    await galley.press(galley.buttons()["Keep it an hour"])
    answer = await hass.services.async_call(
        DOMAIN, "get_cut_log", {}, blocking=True, return_response=True
    )
    entries = answer["entries"]
    assert [entry["what"] for entry in entries] == ["asked", "kept"]
    assert entries[0]["why"] == ""
    assert entries[0]["circuit"] == "Galley 1"
    assert datetime.fromisoformat(entries[0]["time"]).tzinfo is not None


# What is kept.


async def test_a_renamed_circuit_keeps_its_trouble_and_its_savings(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    part_id = subentry_id(galley.entry, "Galley 1")
    await galley.restart()
    saved_wh = galley.watch.saved_wh[part_id]
    assert saved_wh > 20
    hass.config_entries.async_update_subentry(
        galley.entry, galley.entry.subentries[part_id], title="Stove"
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.watch.circuit_names == {part_id: "Stove"}
    assert galley.watch.saved_wh[part_id] >= saved_wh
    assert [line.what for line in galley.watch.log][-1] == "verified"


async def test_what_a_removed_circuit_saved_still_counts_for_the_boat(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    await galley.restart()
    saved_wh = galley.watch.saved_total_wh
    assert saved_wh > 20
    hass.config_entries.async_remove_subentry(
        galley.entry, subentry_id(galley.entry, "Galley 1")
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.watch.saved_total_wh >= saved_wh
    assert hass.states.get("button.galley_1_cut_now") is None


@pytest.mark.parametrize(
    "broken", [{"desk": {}}, {"desk": {"cases": 5}}, {"alerts": {}}]
)
async def test_a_broken_file_loses_questions_but_no_savings(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    hass_storage: dict[str, Any],
    broken: dict[str, Any],
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    await hass.config_entries.async_unload(galley.entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    stored = hass_storage[f"{DOMAIN}.{galley.entry.entry_id}.watch"]["data"]
    saved_wh = sum(stored["saved_wh"].values())
    assert saved_wh > 20
    stored |= broken
    await hass.config_entries.async_setup(galley.entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.watch.saved_total_wh == pytest.approx(saved_wh)


async def test_removing_the_boat_removes_what_the_watch_kept(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, hass_storage: dict[str, Any]
) -> None:
    galley = await started(hass, freezer, AUTO)
    galley.obeys = False
    await galley.become_known()
    await galley.pass_time(60)
    assert stuck_issue(galley) is not None
    key = f"{DOMAIN}.{galley.entry.entry_id}.watch"
    assert key in hass_storage
    await hass.config_entries.async_remove(galley.entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert key not in hass_storage
    assert stuck_issue(galley) is None


async def test_the_obstacle_sensor_says_why_nothing_is_cut(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    entity_registry: er.EntityRegistry,
) -> None:
    galley = await started(hass, freezer, ASK)
    name = "sensor.galley_1_not_cut_because"
    entity_registry.async_update_entity(name, disabled_by=None)
    await galley.restart()
    await galley.pass_time(60)
    assert hass.states.get(name).state == "resting_unknown"
    await galley.become_known()
    assert hass.states.get(name).state == "none"


async def test_standby_is_shown_per_circuit_appliance_and_day(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, {"cut": "never"})
    await galley.pass_time(120)
    assert float(hass.states.get("sensor.galley_1_standby_power").state) == 22
    assert float(hass.states.get("sensor.kettle_standby_power").state) == 22
    assert hass.states.get("sensor.oven_standby_power").state == "unknown"
    # 22 W for a day are 528 Wh, through 0.92 at 12.8 V 44.8 Ah.
    energy = hass.states.get("sensor.kittiwake_standby_energy_per_day")
    charge = hass.states.get("sensor.kittiwake_standby_charge_per_day")
    assert float(energy.state) == pytest.approx(528, abs=1)
    assert float(charge.state) == pytest.approx(44.8, abs=0.1)


async def test_an_ovens_timer_is_set_shown_and_cancelled(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await act(hass, "set_timer", appliance="oven", minutes=30)
    assert hass.states.get("sensor.oven_timer_end").state == "unknown"
    timer = galley.watch.alerts.timers.get("Oven")
    timer.started_s = time.time()
    await galley.pass_time(10)
    shown = datetime.fromisoformat(hass.states.get("sensor.oven_timer_end").state)
    assert shown.timestamp() == pytest.approx(timer.started_s + 1800, abs=1)
    await act(hass, "cancel_timer", appliance="Oven")
    assert galley.watch.alerts.timers.get("Oven") is None


async def test_quiet_hours_from_the_options_hold_the_question(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    chosen = options(quiet_start="11:00:00", quiet_end="18:00:00")
    galley = Galley(hass, freezer, galley_entry(ASK, chosen))
    await galley.start()
    await galley.become_known()
    assert not galley.messages()
    assert galley.log()[-1] == ("refused", "quiet_hours")
