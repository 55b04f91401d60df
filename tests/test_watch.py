"""What the watch keeps of a planned dish, and what it sees of the present."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
import pytest

from custom_components.galley_loads.core.boat import Dish, Sensor, Sensors
from custom_components.galley_loads.core.meals import Meal
from custom_components.galley_loads.expected_meal import ExpectedMeal
from custom_components.galley_loads.notifications import EVENT_PHONE_ACTION
from custom_components.galley_loads.watch_present import WatchPresent, load_sensor
from custom_components.galley_loads.watch_store import renamed_desk
from tests.core.rigs import Galley as CoreGalley, galley_boat

from .at_home import set_sensors
from .watched import Galley, galley_entry

START_S = 1_779_000_000.0


def meal(appliances: tuple[str, ...] = ("Oven",), start_s: float = START_S) -> Meal:
    return Meal(
        start_s, start_s + 3600, "dinner", appliances,
        400, 34.0, 20.0, 30.0, 0.4, 80, 74, (),
    )  # fmt: skip


def expecting(dish: Dish | None, told: str = "Bread", dish_ah: float = 31.0) -> Any:
    """Return what remembers the guess, on a boat that plans a dish."""
    advice = SimpleNamespace(dish=told, dish_ah=dish_ah)
    runner = SimpleNamespace(planned=dish, result=SimpleNamespace(advice=advice))
    return ExpectedMeal(SimpleNamespace(advice=runner))


def view(current: Meal | None) -> Any:
    return SimpleNamespace(current_meal=current)


BREAD = Dish("Bread", {"Oven": 50.0})


def test_the_planned_dish_is_what_the_meal_was_expected_to_be() -> None:
    expected = expecting(BREAD)
    expected.observe(view(None))
    expected.observe(view(meal()))
    # The start is told a little differently once it is settled.
    assert expected.of(meal(start_s=START_S + 120)) == 31.0


@pytest.mark.parametrize(
    ("dish", "told"),
    [(None, "Bread"), (BREAD, "Stew"), (Dish("Bread", {"Hob": 9.0}), "Bread")],
)
def test_without_a_plan_that_fits_nothing_was_expected(dish: Any, told: str) -> None:
    expected = expecting(dish, told)
    expected.observe(view(meal()))
    assert expected.of(meal()) is None


def test_the_guess_is_that_of_the_meals_beginning() -> None:
    expected = expecting(BREAD)
    expected.observe(view(meal()))
    expected._coordinator.advice.planned = None
    expected.observe(view(meal(start_s=START_S + 300)))
    assert expected.of(meal()) == 31.0
    expected.observe(view(meal(start_s=START_S + 7200)))
    assert expected.of(meal(start_s=START_S + 7200)) is None


def test_a_meal_before_the_plan_was_not_expected() -> None:
    expected = expecting(BREAD)
    assert expected.of(meal()) is None
    expected.observe(view(meal()))
    assert expected.of(meal(start_s=START_S - 9000)) is None


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
    facts = present.facts(galley.moment(), None, {})
    assert facts.discharge_a == pytest.approx(100.0)
    assert present.view is None
    assert present.moment() is None


def test_a_desk_is_renamed_with_its_circuits() -> None:
    desk = {"cases": {"Galley": 1, "Stove": 2}, "questions": [["t"]], "log": []}
    assert renamed_desk(desk, {"a": "Galley"}, {"a": "Galley"}) == desk
    renamed = renamed_desk(
        desk, {"a": "Galley", "b": "Stove", "c": "Gone"}, {"a": "Stove", "b": "Galley"}
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
    assert len(galley.watch._waiting) <= 8
    assert galley.watch.async_cut_now("Galley 1") == []
    with pytest.raises(KeyError):
        galley.watch.async_cut_now("Galley 9")
    galley.watch.async_inspected("gone")
    await galley.pass_time(20)
    assert not galley.watch._waiting
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
    assert galley.watch._night is None
    galley.cooking_w = 1500
    await galley.pass_time(120, 10)
    assert hass.states.get("binary_sensor.kettle_running").state == "on"
    night = galley.watch._night
    assert night is not None
    assert 0 <= night.chance_below <= 1
    galley.cooking_w = 0
    await galley.pass_time(300, 30)
    assert galley.watch._night is None
