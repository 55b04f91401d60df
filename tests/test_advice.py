"""Advice aboard: the planned dish, the day ahead, and what is asked by actions."""

from datetime import datetime
from itertools import pairwise
import threading
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant, State
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    mock_restore_cache_with_extra_data,
)

from custom_components.galley_loads import advice_runner
from custom_components.galley_loads.advice_runner import SHORTEST_PAUSE_S
from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.advice import Verdict
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.load import LoadSample

from .at_home import KITTIWAKE, boat_entry, start_boat, subentry_id
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

DISH = "select.kittiwake_planned_dish"
ADVICE = "sensor.kittiwake_advice"
BEST_START = "sensor.kittiwake_best_start"
SUNRISE = "sensor.kittiwake_charge_at_sunrise"
LOWEST = "sensor.kittiwake_lowest_charge_ahead"
SURPLUS = "sensor.kittiwake_surplus_sun"
CLEARNESS = "sensor.kittiwake_clearness_of_the_sky"

VERDICTS = {verdict.value for verdict in Verdict}


@pytest.fixture
def day(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> GalleyDay:
    """A day aboard, at noon."""
    return GalleyDay(hass, freezer)


async def plan(hass: HomeAssistant, option: str) -> None:
    await hass.services.async_call(
        "select", "select_option", {"entity_id": DISH, "option": option}, blocking=True
    )
    await hass.async_block_till_done(wait_background_tasks=True)


async def ask(hass: HomeAssistant, action: str, **data: Any) -> dict[str, Any]:
    answer = await hass.services.async_call(
        DOMAIN, action, data, blocking=True, return_response=True
    )
    assert isinstance(answer, dict)
    return answer


def state(hass: HomeAssistant, entity_id: str) -> str:
    found = hass.states.get(entity_id)
    assert found is not None, entity_id
    return found.state


async def lying_at_anchor(hass: HomeAssistant, day: GalleyDay) -> MockConfigEntry:
    """Return a boat that has been told of for ten minutes."""
    entry = await start_boat(hass, boat_entry())
    await day.live(600, solar_w=300.0, step_s=60)
    return entry


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
    assert all(isinstance(one, str) and one for one in advice.attributes["reasons"])
    start = dt_util.parse_datetime(state(hass, BEST_START))
    assert start is not None
    assert start >= dt_util.utcnow()
    await plan(hass, "nothing_planned")
    assert state(hass, ADVICE) == "nothing_planned"
    assert "reasons" not in hass.states.get(ADVICE).attributes
    assert state(hass, BEST_START) == "unknown"


async def test_an_empty_bank_is_told_to_hold_off(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    await day.live(600, soc=36.0, solar_w=0.0, step_s=60)
    await plan(hass, "Bread")
    assert state(hass, ADVICE) == "hold_off"
    assert state(hass, BEST_START) == "unknown"
    assert "reserve" in hass.states.get(ADVICE).attributes["reasons"][0]


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


async def test_advice_never_works_in_the_event_loop(
    hass: HomeAssistant, day: GalleyDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    threads: set[int] = set()

    def watched(name: str) -> Any:
        original = getattr(advice_runner, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            threads.add(threading.get_ident())
            return original(*args, **kwargs)

        return call

    for name in ("advise", "day_ahead"):
        monkeypatch.setattr(advice_runner, name, watched(name))
    await lying_at_anchor(hass, day)
    await plan(hass, "Bread")
    await ask(hass, "advise", dish="Bread")
    assert threads
    assert threading.get_ident() not in threads


def runs_of(entry: MockConfigEntry) -> list[datetime]:
    """Return a list that fills with the times at which there is a new outlook."""
    times: list[datetime] = []
    entry.runtime_data.advice.async_listen(lambda: times.append(dt_util.utcnow()))
    return times


async def test_the_outlook_is_renewed_on_the_quarter_hour(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    times = runs_of(entry)
    await day.live(3600, step_s=30)
    assert [(at.minute, at.second < 60) for at in times] == [
        (minute, True) for minute in (15, 30, 45, 0)
    ]


async def test_a_sun_that_goes_another_way_is_answered_before_the_quarter(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    await day.live(360)
    times = runs_of(entry)
    # A bank that loses five percent in a moment is not what was expected.
    await day.live(300, soc=72.0)
    assert len(times) == 1
    assert times[0].minute not in (0, 15, 30, 45)


async def test_departures_do_not_keep_the_board_busy(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    times = runs_of(entry)
    for soc in range(79, 60, -1):
        await day.live(60, soc=float(soc), step_s=20)
    assert times
    gaps = [
        (b - a).total_seconds()
        for a, b in pairwise(times)
        if b.minute not in (0, 15, 30, 45)
    ]
    assert all(gap >= SHORTEST_PAUSE_S for gap in gaps)


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
    assert hass.states.get(CLEARNESS) is None
    assert float(state(hass, LOWEST)) < 80


# Actions


async def test_advice_on_a_dish_tells_what_it_takes(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    answer = await ask(hass, "advise", dish="bread")
    assert answer["verdict"] in VERDICTS - {"unknown"}
    assert answer["dish"] == "Bread"
    assert answer["soc_now"] == pytest.approx(80.0, abs=0.5)
    # Amp-hours at the bank: Wh through the inverter, over the bank's voltage.
    assert answer["dish_ah"] == pytest.approx(answer["dish_wh"] / 0.92 / 13.0, rel=0.05)
    assert "starts" not in answer
    series = await ask(hass, "advise", dish="Bread", series=True)
    assert len(series["forecast"]) == 96
    assert series["starts"][0]["start"] is not None


async def test_advice_on_anything(hass: HomeAssistant, day: GalleyDay) -> None:
    await lying_at_anchor(hass, day)
    kettle = await ask(hass, "advise", appliances={"kettle": 4})
    # 1500 W for four minutes.
    assert kettle["dish_wh"] == pytest.approx(100, rel=0.02)
    assert kettle["minutes"] == 4
    stated = await ask(hass, "advise", dish="Jam", energy=700)
    assert stated["dish"] == "Jam"
    assert stated["dish_wh"] == 700


async def test_too_much_at_once_is_named_first(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    answer = await ask(hass, "advise", appliances={"Kettle": 10, "Oven": 40})
    # 1500 W and 2000 W on an inverter of 2500 W.
    assert answer["verdict"] == "hold_off"
    assert answer["reasons"][0].startswith("Overload")


async def test_it_must_be_ready_by_its_time(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    answer = await ask(
        hass, "advise", dish="Bread", ready_by="14:00", series=True, energy=900
    )
    last = dt_util.parse_datetime(answer["starts"][-1]["start"])
    # Two in the afternoon aboard is two in the afternoon UTC in an Azorean summer.
    assert last is not None
    assert last.hour * 60 + last.minute <= 14 * 60 - 30
    later = await ask(
        hass, "advise", dish="Bread", earliest="2026-05-11 15:00:00", series=True
    )
    first = dt_util.parse_datetime(later["starts"][0]["start"])
    assert first is not None
    assert first.hour == 15


BAD = [
    ({"dish": "Cake"}, "dish", "Bread"),
    ({"dish": 7}, "dish", "Bread"),
    ({"appliances": {"Grill": 10}}, "appliances", "Kettle, Oven"),
    ({"appliances": {"Oven": 0}}, "appliances: Oven", "above 0"),
    ({"appliances": {"Oven": "long"}}, "appliances: Oven", "above 0"),
    ({"appliances": {"Oven": 2000}}, "appliances: Oven", "1440"),
    ({"appliances": ["Oven"]}, "appliances", "Oven: 40"),
    ({"energy": -5}, "energy", "above 0"),
    ({"energy": True}, "energy", "above 0"),
    ({"dish": "Bread", "ready_by": "tea time"}, "ready_by", "19:30"),
    ({"dish": "Bread", "ready_by": 1900}, "ready_by", "19:30"),
    ({"dish": "Bread", "earliest": "2026-05-10 12:00"}, "earliest", "to come"),
    ({"dish": "Bread", "series": "yes"}, "series", "true or false"),
]


async def test_bad_input_is_named_with_what_is_allowed(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    await day.live(20)
    for data, field, allowed in BAD:
        with pytest.raises(ServiceValidationError) as raised:
            await ask(hass, "advise", **data)
        assert raised.value.translation_key == "bad_value"
        places = raised.value.translation_placeholders
        assert places["field"] == field, data
        assert allowed in places["allowed"], data
        assert places["value"], data


async def test_nothing_named_and_nothing_planned_is_an_error(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    with pytest.raises(ServiceValidationError) as raised:
        await ask(hass, "advise")
    assert raised.value.translation_key == "nothing_to_advise_on"
    await plan(hass, "Bread")
    assert (await ask(hass, "advise"))["dish"] == "Bread"


async def test_a_day_is_planned_without_overload(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await lying_at_anchor(hass, day)
    plan_of_day = await ask(
        hass,
        "plan_day",
        dishes=["Bread", {"dish": "Tea", "appliances": {"Kettle": 5}}],
    )
    spans = sorted(
        (one["start"], one["end"], one["dish"]) for one in plan_of_day["dishes"]
    )
    assert [dish for _, _, dish in spans if dish == "Bread"] == ["Bread"]
    # 3500 W do not go through 2500 W, so they are never on at the same time.
    assert spans[0][1] <= spans[1][0]
    assert plan_of_day["keeps_reserve"] is True
    every = await ask(hass, "plan_day")
    assert [one["dish"] for one in every["dishes"]] == ["Bread"]


async def test_a_bad_list_of_dishes_is_refused(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    size = {"dish": "Bread", "size": 2}
    for dishes in ([], ["Cake"], [7], [size], 5, ["Bread"] * 13):
        with pytest.raises(ServiceValidationError) as raised:
            await ask(hass, "plan_day", dishes=dishes)
        assert raised.value.translation_key == "bad_value", dishes


async def test_what_if_needs_a_past(hass: HomeAssistant, day: GalleyDay) -> None:
    await lying_at_anchor(hass, day)
    with pytest.raises(ServiceValidationError) as raised:
        await ask(hass, "what_if", bank_capacity=840)
    assert raised.value.translation_key == "not_enough_past"


async def test_a_bad_what_if_is_refused(hass: HomeAssistant, day: GalleyDay) -> None:
    await start_boat(hass, boat_entry())
    for data in (
        {},
        {"bank_capacity": 0},
        {"reserve": 120},
        {"array_power": "big"},
        {"array_power": True},
        {"reserve": 30, "days": 2},
    ):
        with pytest.raises(ServiceValidationError) as raised:
            await ask(hass, "what_if", **data)
        assert raised.value.translation_key == "bad_value", data


async def test_a_bigger_bank_would_not_have_touched_the_reserve_more_often(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await lying_at_anchor(hass, day)
    from_s = dt_util.utcnow().timestamp()

    def four_days_without_sun(engine: Engine) -> None:
        for hour in range(100):
            engine.outlook.observe(
                LoadSample(
                    from_s + 3600.0 * hour,
                    load_w=25.0,
                    solar_w=0.0,
                    battery_w=-27.0,
                    battery_a=-2.1,
                    voltage_v=13.0,
                    soc=80.0 - hour / 3,
                )
            )

    await entry.runtime_data.async_with_engine(four_days_without_sun)
    answer = await ask(hass, "what_if", bank_capacity=1120)
    assert answer["as_is"]["days"] >= 4
    assert (
        answer["changed"]["days_below_reserve"] <= answer["as_is"]["days_below_reserve"]
    )
    assert answer["changed"]["lowest_soc"] > answer["as_is"]["lowest_soc"]
