"""Questions from the platform to a phone, and what is kept of everything."""

from datetime import datetime
import time
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.galley_loads.const import DOMAIN
from tests.at_home import subentry_id
from tests.watched import (
    ASK,
    AUTO,
    CUT_STATE,
    HOUR,
    Galley,
    act,
    galley_entry,
    options,
    started,
    stuck_issue,
)

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


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
    assert galley.log()[-1] == ("refused", "draw_unexplained")


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


async def test_a_renamed_circuit_keeps_its_trouble_and_its_savings(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    part_id = subentry_id(galley.entry, "Galley 1")
    await galley.restart()
    saved_wh = galley.runtime.savings.shown_wh[part_id]
    assert saved_wh > 20
    hass.config_entries.async_update_subentry(
        galley.entry, galley.entry.subentries[part_id], title="Stove"
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.circuits.names == {part_id: "Stove"}
    assert galley.runtime.savings.shown_wh[part_id] >= saved_wh
    assert [line.what for line in galley.circuits.log][-1] == "verified"


async def test_what_a_removed_circuit_saved_still_counts_for_the_boat(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await galley.become_known()
    await galley.pass_time(HOUR, 60)
    await galley.restart()
    saved_wh = galley.runtime.savings.total_wh
    assert saved_wh > 20
    hass.config_entries.async_remove_subentry(
        galley.entry, subentry_id(galley.entry, "Galley 1")
    )
    await hass.async_block_till_done(wait_background_tasks=True)
    assert galley.runtime.savings.total_wh >= saved_wh
    assert hass.states.get("button.galley_1_cut_now") is None


@pytest.mark.parametrize(
    "broken", [{"rules": {}}, {"rules": {"cases": 5}}, {"reports": {}}]
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
    assert galley.runtime.savings.total_wh == pytest.approx(saved_wh)


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
    for device in ("kittiwake", "galley_1"):
        energy = hass.states.get(f"sensor.{device}_standby_energy_per_day")
        charge = hass.states.get(f"sensor.{device}_standby_charge_per_day")
        assert float(energy.state) == pytest.approx(528, abs=1)
        assert float(charge.state) == pytest.approx(44.8, abs=0.1)


async def test_an_ovens_timer_is_set_shown_and_cancelled(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = await started(hass, freezer, AUTO)
    await act(hass, "set_timer", appliance="oven", minutes=30)
    assert hass.states.get("sensor.oven_timer_end").state == "unknown"
    timer = galley.runtime.timers.get("Oven")
    timer.started_s = time.time()
    await galley.pass_time(10)
    shown = datetime.fromisoformat(hass.states.get("sensor.oven_timer_end").state)
    assert shown.timestamp() == pytest.approx(timer.started_s + 1800, abs=1)
    await act(hass, "cancel_timer", appliance="Oven")
    assert galley.runtime.timers.get("Oven") is None


async def test_quiet_hours_from_the_options_hold_the_question(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    chosen = options(quiet_start="11:00:00", quiet_end="18:00:00")
    galley = Galley(hass, freezer, galley_entry(ASK, chosen))
    await galley.start()
    await galley.become_known()
    assert not galley.messages()
    assert galley.log()[-1] == ("refused", "quiet_hours")
