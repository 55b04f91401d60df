"""Learn mode: somebody runs one appliance alone, and its draw is taken."""

from pathlib import Path
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.const import DOMAIN
from tests.at_home import KITTIWAKE, LOAD, boat_entry, start_boat
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

LEARNING = "sensor.kettle_learning"

METERED = {
    **KITTIWAKE,
    "appliances": [
        KITTIWAKE["appliances"][0],
        {**KITTIWAKE["appliances"][1], "power_sensor": "sensor.oven_meter"},
    ],
}


async def act(hass: HomeAssistant, action: str, **data: Any) -> None:
    await hass.services.async_call(DOMAIN, action, data, blocking=True)


async def press(hass: HomeAssistant) -> None:
    await hass.services.async_call(
        "button", "press", {"entity_id": "button.kettle_learn"}, blocking=True
    )


def learned_w(entry: MockConfigEntry) -> float:
    return entry.runtime_data.coordinator._engine.inference.learned["Kettle"].rated_w


async def lies(hass: HomeAssistant, day: GalleyDay) -> MockConfigEntry:
    entry = await start_boat(hass, boat_entry())
    await day.live(120)
    assert hass.states.get(LEARNING).state == "idle"
    return entry


async def test_a_kettle_that_runs_alone_is_learned(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await press(hass)
    assert hass.states.get(LEARNING).state == "learning"
    await day.live(60)
    # Its plate says 1500 W; it draws 1420 W.
    await day.live(180, 120 + 1420)
    await day.live(120, 120)
    state = hass.states.get(LEARNING)
    assert state.state == "learned"
    assert state.attributes["message"].startswith("1,420 W at full power; 71 Wh")
    assert learned_w(entry) == pytest.approx(1420, abs=5)
    await act(hass, "forget_learned", appliance="kettle")
    assert learned_w(entry) == 1500
    assert hass.states.get(LEARNING).state == "idle"


async def test_what_was_learned_survives_a_restart(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await press(hass)
    await day.live(60)
    await day.live(180, 120 + 1420)
    await day.live(120, 120)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    assert learned_w(entry) == pytest.approx(1420, abs=5)


async def test_a_load_that_changes_before_is_told_of(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lies(hass, day)
    await act(hass, "start_learning", appliance="Kettle")
    await day.live(30, 120)
    await day.live(30, 180)
    await day.live(60, 180 + 1420)
    state = hass.states.get(LEARNING)
    assert state.state == "failed"
    assert "Something else changed" in state.attributes["message"]
    assert learned_w(entry) == 1500
    # It can be tried again.
    await day.live(900, 120)
    await press(hass)
    assert hass.states.get(LEARNING).state == "learning"


async def test_nobody_who_switches_it_on_is_waited_for_only_so_long(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lies(hass, day)
    await press(hass)
    await day.live(2000, step_s=50)
    state = hass.states.get(LEARNING)
    assert state.state == "failed"
    assert "not seen to switch on" in state.attributes["message"]


async def test_learning_can_be_stopped(hass: HomeAssistant, day: GalleyDay) -> None:
    await lies(hass, day)
    with pytest.raises(ServiceValidationError) as raised:
        await act(hass, "stop_learning")
    assert raised.value.translation_key == "learn_not_on"
    await press(hass)
    await act(hass, "stop_learning")
    assert hass.states.get(LEARNING).state == "idle"


async def test_a_lost_load_meter_ends_the_session(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lies(hass, day)
    await press(hass)
    await day.live(60)
    day.lost.add(LOAD)
    await day.live(10)
    state = hass.states.get(LEARNING)
    assert state.state == "failed"
    assert "not measured" in state.attributes["message"]
    assert hass.states.get("button.kettle_learn").state == "unavailable"


async def test_one_at_a_time_and_only_in_a_quiet_galley(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lies(hass, day)
    await press(hass)
    with pytest.raises(ServiceValidationError) as raised:
        await act(hass, "start_learning", appliance="Oven")
    assert raised.value.translation_key == "learn_busy"
    await act(hass, "stop_learning")
    await day.live(120, 1620)
    with pytest.raises(ServiceValidationError) as raised:
        await act(hass, "start_learning", appliance="Oven")
    assert raised.value.translation_key == "learn_something_runs"
    assert raised.value.translation_placeholders == {"appliance": "Kettle"}


async def test_an_appliance_with_its_own_meter_teaches_nothing(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    hass.states.async_set("sensor.oven_meter", "0", {"unit_of_measurement": "W"})
    await start_boat(hass, boat_entry(METERED))
    await day.live(60)
    assert hass.states.get("button.oven_learn") is None
    for action in ("start_learning", "forget_learned"):
        with pytest.raises(ServiceValidationError) as raised:
            await act(hass, action, appliance="Oven")
        assert raised.value.translation_key == "learn_own_meter"


async def test_bad_input_is_refused(hass: HomeAssistant, day: GalleyDay) -> None:
    await lies(hass, day)
    for action in ("start_learning", "forget_learned"):
        for name in ("Grill", "", 7):
            with pytest.raises(ServiceValidationError) as raised:
                await act(hass, action, appliance=name)
            assert raised.value.translation_key == "bad_value"
            assert raised.value.translation_placeholders["field"] == "appliance"


async def test_before_anything_is_measured_nothing_is_learned(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    await start_boat(hass, boat_entry())
    with pytest.raises(ServiceValidationError) as raised:
        await act(hass, "start_learning", appliance="Kettle")
    assert raised.value.translation_key == "learn_not_measured"


def test_the_manual_names_what_there_is() -> None:
    manual = (Path(__file__).parents[2] / "docs" / "learning.md").read_text()
    for action in ("start_learning", "stop_learning", "forget_learned"):
        assert f"`{DOMAIN}.{action}`" in manual
