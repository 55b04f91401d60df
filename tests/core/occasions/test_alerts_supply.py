"""What is said of limits, sun, meters and the night ahead."""

from dataclasses import replace
from datetime import time

import pytest

from custom_components.galley_loads.core.boat.quiet_hours import QuietHours
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.occasions.load_limits import best_to_stop
from custom_components.galley_loads.core.occasions.message_filter import Message
from custom_components.galley_loads.core.occasions.night import (
    NightOutlook,
    night_outlook,
)
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.outlook.outlook import Outlook
from tests.core.occasions.alert_rigs import (
    HEATING,
    HOUR,
    MINUTE,
    Watch,
    clears,
    fleet_boat,
    run_of,
    says,
)
from tests.core.rigs import NOON_S, galley_boat


def test_an_inverter_near_its_limit_says_what_to_turn_off() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bath": (900, HEATING)}
    (say,) = says(watch.pass_time(MINUTE))
    assert (say.kind, say.subject) == (OccurrenceKind.OVERLOAD_NEAR, "inverter")
    assert say.urgent
    # 1400 + 900 + 120 W; stopping the bath is enough and disturbs least.
    assert say.message == "2,420 W of 2,500 W. Turn off Bath first."
    del watch.on["Bath"]
    assert clears(watch.pass_time(5 * MINUTE)) == [say.tag]


def test_a_load_that_hovers_at_the_limit_is_reported_once() -> None:
    watch = Watch()
    said: list[Message] = []
    for _ in range(10):
        watch.on = {"Hob": (1400, HEATING), "Bath": (900, HEATING)}
        said += watch.pass_time(MINUTE)
        del watch.on["Bath"]
        said += watch.pass_time(4 * MINUTE)
    assert len(says(said, OccurrenceKind.OVERLOAD_NEAR)) == 1


def test_an_appliance_alone_may_come_close_to_a_limit() -> None:
    watch = Watch()
    watch.on = {"Kettle": (2200, HEATING)}  # 2,320 of 2,500 W; 18.3 of 20 A
    assert not watch.pass_time(5 * MINUTE)


def test_a_short_peak_is_no_overload() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bath": (1200, HEATING)}
    said = watch.pass_time(6, step_s=2)
    del watch.on["Bath"]
    assert not said + watch.pass_time(MINUTE)


def test_a_breaker_near_its_limit_is_named() -> None:
    watch = Watch()
    watch.on = {"Hob": (900, HEATING), "Oven": (800, HEATING)}  # 14.2 of 15 A
    (say,) = says(watch.pass_time(MINUTE))
    assert say.title == "The breaker of Galley 1 is near its limit"
    assert say.message == "14 A of 15 A. Turn off Oven first."


def test_the_banks_current_near_its_limit_is_told() -> None:
    watch = Watch(fleet_boat(max_discharge_current_a=150))
    watch.on = {"Hob": (900, HEATING), "Bath": (600, HEATING)}
    (say,) = says(watch.pass_time(MINUTE))
    assert say.title == "The bank's current is near its limit"
    # 1,620 W through 0.9 over 12.8 V are 140.6 A.
    assert say.message.startswith("141 A of 150 A.")


def test_what_hangs_on_the_bank_directly_does_not_load_the_inverter() -> None:
    watch = Watch()
    watch.on = {
        "Hob": (1400, HEATING),
        "Bath": (650, HEATING),
        "Cool pan": (300, HEATING),
    }
    assert not says(watch.pass_time(MINUTE))


def test_on_a_boat_without_an_inverter_meter_the_inverters_own_loads_count() -> None:
    sensors = replace(galley_boat().sensors, ac_load_power=None)
    watch = Watch(replace(fleet_boat(), sensors=sensors))
    watch.on = {"Hob": (1400, HEATING), "Bath": (700, HEATING)}
    assert not says(watch.pass_time(MINUTE))
    watch.unnamed_w = 200
    assert says(watch.pass_time(MINUTE))


def test_the_smallest_load_that_is_enough_is_the_one_to_stop() -> None:
    draws = {"Hob": 1400.0, "Bath": 900.0, "Rice cooker": 300.0}
    assert best_to_stop(draws, 250) == "Rice cooker"
    assert best_to_stop(draws, 500) == "Bath"
    assert best_to_stop(draws, 5000) == "Hob"
    assert best_to_stop({}, 100) is None


def test_a_sun_that_goes_away_mid_cook_is_told_once() -> None:
    watch = Watch(solar_w=700)
    watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(15 * MINUTE)
    watch.solar_w = 90
    (say,) = says(watch.pass_time(10 * MINUTE))
    assert say.kind is OccurrenceKind.SUN_GONE
    assert say.message == "It gives 90 W now, 700 W before. Hob runs off the bank."
    watch.solar_w = 700
    assert clears(watch.pass_time(10 * MINUTE)) == [say.tag]


def test_one_cloud_is_no_news() -> None:
    watch = Watch(solar_w=700)
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(15 * MINUTE)
    watch.solar_w = 90
    said = watch.pass_time(2 * MINUTE)
    watch.solar_w = 650
    assert not said + watch.pass_time(30 * MINUTE)


@pytest.mark.parametrize("solar_w", [None, 100.0])
def test_a_sun_that_never_carried_the_cooking_cannot_leave_it(solar_w) -> None:
    watch = Watch(solar_w=solar_w)
    watch.on["Hob"] = (1500, HEATING)
    watch.pass_time(15 * MINUTE)
    watch.solar_w = 0.0
    assert not watch.pass_time(20 * MINUTE)


def test_an_evening_that_grows_dark_slowly_is_no_news() -> None:
    watch = Watch(solar_w=600)
    watch.on["Hob"] = (900, HEATING)
    said: list[Message] = []
    for minute in range(90):
        watch.solar_w = 600 * (1 - minute / 90)
        said += watch.pass_time(MINUTE)
    assert not says(said, OccurrenceKind.SUN_GONE)


def test_readings_lost_while_cooking_are_told_at_once() -> None:
    watch = Watch(quiet_hours=QuietHours(time(11), time(18)))
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(5 * MINUTE)
    watch.measured = False
    watch.on.clear()
    (say,) = says(watch.pass_time(3 * MINUTE))
    assert say.kind is OccurrenceKind.READINGS_LOST
    assert "Hob was on. Please check by eye." in say.message
    watch.restart()
    watch.measured = True
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


def test_readings_lost_while_nobody_cooks_are_not_the_cooks_concern() -> None:
    watch = Watch()
    watch.pass_time(10 * MINUTE)
    watch.measured = False
    assert not watch.pass_time(HOUR)


def night(chance_below: float, lowest_soc: float = 28.0) -> NightOutlook:
    return NightOutlook(NOON_S, lowest_soc, NOON_S + 17 * HOUR, chance_below)


def test_a_reserve_at_risk_is_told_with_what_is_cooking() -> None:
    watch = Watch(night=night(0.8))
    watch.on = {"Bath": (200, HEATING), "Hob": (900, HEATING)}
    (say,) = says(watch.pass_time(10 * MINUTE))
    assert say.kind is OccurrenceKind.RESERVE_AT_RISK
    assert say.message == (
        "With Hob and Bath on, it falls to about 28 % by 05:00 tomorrow. "
        "Your reserve is 35 %."
    )
    watch.on.clear()
    assert clears(watch.pass_time(20 * MINUTE)) == [say.tag]


@pytest.mark.parametrize(
    ("outlook", "cooking", "soc"),
    [
        (None, True, 70),
        (night(0.3), True, 70),
        (night(0.9), False, 70),
        (night(1), True, 30),
    ],
)
def test_no_word_about_the_reserve_without_need(outlook, cooking, soc) -> None:
    watch = Watch(night=outlook, soc=soc)
    if cooking:
        watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(HOUR)


def known_evening(soc: float) -> tuple[Outlook, float]:
    """Return an outlook after two quiet days of 100 W, and the time: an hour before dark."""
    boat = fleet_boat()
    sensors = replace(boat.sensors, battery_soc=boat.sensors.ac_load_power)
    outlook = Outlook(replace(boat, sensors=sensors))
    at_s = NOON_S + 9 * HOUR - 2 * 86400
    while at_s < NOON_S + 9 * HOUR:
        outlook.observe(
            LoadSample(
                at_s, 100.0, solar_w=0.0, battery_w=-111.0, voltage_v=12.8, soc=soc
            )
        )
        outlook.settle_span(at_s, at_s + 60, 0.0)
        at_s += 60
    return outlook, at_s


def test_the_night_takes_what_it_takes_and_cooking_comes_on_top() -> None:
    outlook, at_s = known_evening(soc=60)
    quiet = night_outlook(outlook.view(), at_s, {}, None)
    cooking = night_outlook(outlook.view(), at_s, {"Hob": 1000.0}, None)
    assert quiet is not None
    assert cooking is not None
    # 560 Ah at 12.8 V: 1000 Wh through 0.9 take 15.5 points of charge.
    assert quiet.lowest_soc - cooking.lowest_soc == pytest.approx(15.5, abs=1.5)
    # The sun rises at half past six there in May; dawn is some ten hours away.
    assert 8 * HOUR < quiet.lowest_at_s - at_s < 14 * HOUR
    assert quiet.chance_below < 0.2


def test_a_low_bank_in_the_evening_is_at_risk() -> None:
    outlook, at_s = known_evening(soc=40)
    outlook_now = night_outlook(outlook.view(), at_s, {"Hob": 800.0}, "dinner")
    assert outlook_now is not None
    assert outlook_now.chance_below > 0.8


def test_without_a_charge_there_is_no_night_to_tell_of() -> None:
    boat = fleet_boat()
    view = Outlook(boat).view()
    assert night_outlook(view, NOON_S, {}, None) is None


def test_what_still_cooks_is_guessed_from_habit() -> None:
    watch = Watch()
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(2 * MINUTE)
    # Unknown yet: half an hour of an induction hob, by its kind.
    kind_wh = catalogue.INDUCTION_HOB.typical_energy_wh(1800, 30)
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": kind_wh}
    for energy_wh in (300, 500, 420):
        watch.alerts.settle_run(replace(run_of("Hob", 40), energy_wh=energy_wh))
    watch.used_wh = {"Hob": 120.0}
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": 300.0}
    watch.used_wh = {"Hob": 700.0}
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": 84.0}
    watch.on.clear()
    watch.pass_time(MINUTE)
    assert watch.alerts.remaining_wh(watch.facts().live) == {}
