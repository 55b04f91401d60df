"""What the watch sees of the present."""

from dataclasses import replace
from types import SimpleNamespace

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest

from custom_components.galley_loads.core.boat.boat import Sensor, Sensors
from custom_components.galley_loads.core.occasions.facts import facts_of
from custom_components.galley_loads.state.watch_store import renamed_rules
from custom_components.galley_loads.watch.notifications import EVENT_PHONE_ACTION
from custom_components.galley_loads.watch.watch_present import WatchPresent, load_sensor
from tests.at_home import set_sensors
from tests.core.rigs import Galley as CoreGalley, galley_boat
from tests.watched import Galley, galley_entry


def test_the_load_is_as_fresh_as_the_sensor_that_it_hangs_on() -> None:
    ac, dc, bank, shunt = (Sensor(f"sensor.{name}") for name in ("ac", "dc", "b", "s"))
    boat = galley_boat()

    def asked(**sensors: Sensor) -> Sensor | None:
        return load_sensor(replace(boat, sensors=Sensors(**sensors)))

    assert asked(ac_load_power=ac, battery_power=bank) == ac
    assert asked(dc_load_power=dc, battery_power=bank) == dc
    assert asked(battery_power=bank, battery_current=shunt) == bank
    assert asked(battery_current=shunt, battery_voltage=ac) == shunt
    assert asked() is None


def test_the_banks_current_is_known_from_its_power_too() -> None:
    galley = CoreGalley(galley_boat(), bank_w=1280.0)
    present = WatchPresent(
        SimpleNamespace(), SimpleNamespace(boat=galley.boat, data=None)
    )
    facts = facts_of(galley.boat, galley.moment(), {}, None)
    assert facts.discharge_a == pytest.approx(100.0)
    assert present.view is None
    assert present.moment() is None


def test_the_rules_are_renamed_with_their_circuits() -> None:
    rules = {"cases": {"Galley": 1, "Stove": 2}, "questions": [["t"]], "log": []}
    assert renamed_rules(rules, {"a": "Galley"}, {"a": "Galley"}) == rules
    renamed = renamed_rules(
        rules, {"a": "Galley", "b": "Stove", "c": "Gone"}, {"a": "Stove", "b": "Galley"}
    )
    assert renamed["cases"] == {"Stove": 1, "Galley": 2}
    assert renamed["questions"] == []


@pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")
async def test_a_flood_of_answers_is_bounded(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = Galley(hass, freezer, galley_entry({"cut": "ask"}))
    await galley.start()
    galley.watch._present._seen = None
    action = f"GALLEY_LOADS.CUT.{galley.entry.entry_id}.abc"
    for _ in range(50):
        hass.bus.async_fire(EVENT_PHONE_ACTION, {"action": action})
    await hass.async_block_till_done(wait_background_tasks=True)
    assert len(galley.watch._answers._waiting) <= 8
    assert galley.circuits.async_cut_now("Galley 1") == []
    with pytest.raises(KeyError):
        galley.circuits.async_cut_now("Galley 9")
    galley.circuits.async_inspected("gone")
    await galley.pass_time(20)
    assert not galley.watch._answers._waiting
    assert not galley.relay_calls


@pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")
async def test_the_night_ahead_is_looked_into_while_something_cooks(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory
) -> None:
    galley = Galley(hass, freezer, galley_entry({"cut": "never"}))
    await galley.start()
    freezer.move_to("2026-05-11T20:00:00+00:00")
    set_sensors(hass, galley.load_w())
    await galley.pass_time(120, 30)
    assert galley.watch._night.outlook is None
    galley.cooking_w = 1500
    await galley.pass_time(120, 10)
    assert hass.states.get("binary_sensor.kettle_running").state == "on"
    night = galley.watch._night.outlook
    assert night is not None
    assert 0 <= night.chance_below <= 1
    galley.cooking_w = 0
    await galley.pass_time(300, 30)
    assert galley.watch._night.outlook is None
