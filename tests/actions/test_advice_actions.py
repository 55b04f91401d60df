"""Advice by actions: on a dish, on anything, on a day, and what a change would do."""

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util import dt as dt_util
import pytest

from custom_components.galley_loads.core.advice import Verdict
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from tests.advised import ask, lying_at_anchor, plan
from tests.at_home import boat_entry, start_boat
from tests.galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

VERDICTS = {verdict.value for verdict in Verdict}


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


async def test_advice_is_given_on_any_appliances_and_on_any_energy(
    hass: HomeAssistant, day: GalleyDay
) -> None:
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
            engine.outlook().observe(
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

    await entry.runtime_data.coordinator.async_with_engine(four_days_without_sun)
    answer = await ask(hass, "what_if", bank_capacity=1120)
    assert answer["as_is"]["days"] >= 4
    assert (
        answer["changed"]["days_below_reserve"] <= answer["as_is"]["days_below_reserve"]
    )
    assert answer["changed"]["lowest_soc"] > answer["as_is"]["lowest_soc"]
