"""Advice aboard as the sensors show it: the planned dish and the day ahead."""

from homeassistant.core import HomeAssistant, State
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import (
    mock_restore_cache_with_extra_data,
)

from tests.advised import (
    ADVICE,
    BEST_START,
    CLEAR_SKY_INDEX,
    DISH,
    LOWEST,
    SUNRISE,
    SURPLUS,
    ask,
    lying_at_anchor,
    plan,
    state,
)
from tests.at_home import KITTIWAKE, boat_entry, start_boat, subentry_id
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def test_without_a_plan_only_the_day_ahead_is_told(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    assert state(hass, DISH) == "nothing_planned"
    assert state(hass, ADVICE) == "nothing_planned"
    assert state(hass, BEST_START) == "unknown"
    assert 0 < float(state(hass, SUNRISE)) <= 100
    assert float(state(hass, LOWEST)) <= float(state(hass, SUNRISE)) + 0.1
    # 300 W of sun carry 120 W of load and its conversion; the rest is to spare.
    assert float(state(hass, SURPLUS)) == pytest.approx(300 - 120 / 0.92, abs=5)


async def test_planning_a_dish_gives_the_advice_at_once(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    await plan(hass, "Bread")
    advice = hass.states.get(ADVICE)
    assert advice.state in {"cook_now", "wait"}
    assert advice.attributes["dish"] == "Bread"
    reasons = advice.attributes["reasons"]
    assert reasons
    assert all(isinstance(one, str) and one for one in reasons)
    start = dt_util.parse_datetime(state(hass, BEST_START))
    assert start is not None
    assert start >= dt_util.utcnow()
    await plan(hass, "nothing_planned")
    assert state(hass, ADVICE) == "nothing_planned"
    assert "reasons" not in hass.states.get(ADVICE).attributes
    assert state(hass, BEST_START) == "unknown"


async def test_a_bank_near_its_reserve_is_told_to_wait_for_the_sun(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    await day.live(600, soc=41.0, solar_w=0.0, step_s=60)
    await plan(hass, "Bread")
    assert state(hass, ADVICE) == "wait"
    start = dt_util.parse_datetime(state(hass, BEST_START))
    assert start is not None
    assert start > dt_util.utcnow()
    assert "the bank stays above" in hass.states.get(ADVICE).attributes["reasons"][0]


async def test_silent_sensors_make_the_advice_unknown_and_say_so(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    await plan(hass, "Bread")
    day.freezer.tick(2 * 3600 - 60)
    answer = await ask(hass, "advise")
    assert answer["verdict"] == "unknown"
    assert answer["reasons"] == ["The newest reading is 2 h old."]
    await plan(hass, "nothing_planned")
    await plan(hass, "Bread")
    assert state(hass, ADVICE) == "unknown"
    assert hass.states.get(ADVICE).attributes["reasons"] == answer["reasons"]


async def test_the_plan_survives_a_restart_and_a_new_name(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = boat_entry()
    bread_id = subentry_id(entry, "Bread")
    mock_restore_cache_with_extra_data(
        hass, [(State(DISH, "Loaf"), {"subentry_id": bread_id})]
    )
    await start_boat(hass, entry)
    await day.live(60)
    assert state(hass, DISH) == "Bread"
    assert hass.states.get(ADVICE).attributes["dish"] == "Bread"


async def test_a_dish_that_was_removed_is_planned_no_more(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    mock_restore_cache_with_extra_data(
        hass, [(State(DISH, "Cake"), {"subentry_id": "gone"})]
    )
    await start_boat(hass, boat_entry())
    await day.live(60)
    assert state(hass, DISH) == "nothing_planned"


async def test_a_boat_without_an_array_has_no_sensors_of_the_sun(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    sensors = {k: v for k, v in KITTIWAKE["sensors"].items() if k != "solar_power"}
    dark = {k: v for k, v in KITTIWAKE.items() if k != "solar"} | {"sensors": sensors}
    await start_boat(hass, boat_entry(dark))
    await day.live(60)
    assert hass.states.get(SURPLUS) is None
    assert hass.states.get(CLEAR_SKY_INDEX) is None
    assert float(state(hass, LOWEST)) < 80
