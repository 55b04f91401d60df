"""The small parts of advice: words, windows, limits, steps."""

from dataclasses import replace
from datetime import time

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.advice.answer import Verdict
from custom_components.galley_loads.core.advice.freshness import check_freshness
from custom_components.galley_loads.core.advice.grid import Grid, spread_over_steps
from custom_components.galley_loads.core.advice.limits import (
    Draw,
    LimitKind,
    draw_of,
    overloads,
)
from custom_components.galley_loads.core.advice.request import (
    DishRequest,
    next_time_s,
    start_window,
)
from custom_components.galley_loads.core.advice.scenario import even_deviations
from custom_components.galley_loads.core.advice.words import (
    ampere_hours,
    chance,
    charge,
    clock,
    duration,
    energy,
    percent,
)
from custom_components.galley_loads.core.boat import (
    Appliance,
    Bank,
    Dish,
    Inverter,
    Sensor,
    Sensors,
    Supply,
)
from custom_components.galley_loads.core.charge_state import ChargeSource
from custom_components.galley_loads.core.dishes import CostSource, DishCost
from custom_components.galley_loads.core.kinds import Kind
from custom_components.galley_loads.core.load import LoadSample
from custom_components.galley_loads.core.outlook import Outlook

from .boats import HOB, OVEN
from .outlook_rig import cooking_boat, unix

AT_S = unix("2026-05-12T16:00:00")


def test_numbers_as_the_crew_says_them():
    assert duration(40 * 60) == "40 min"
    assert duration(2 * 3600) == "2 h"
    assert duration(3 * 3600 + 1200) == "3 h 20 min"
    assert duration(9 * 86_400) == "9 days"
    assert (percent(0.935), charge(34.6)) == ("94 %", "35 %")
    assert [chance(s) for s in (1.0, 0.93, 0.0)] == ["over 97 %", "93 %", "under 3 %"]
    assert (ampere_hours(4.62), ampere_hours(36.4)) == ("4.6 Ah", "36 Ah")
    assert (energy(419.6), energy(1240.0)) == ("420 Wh", "1.24 kWh")


def test_times_are_on_the_boats_clock_and_name_another_day():
    zone = cooking_boat().time_zone
    assert clock(AT_S + 3600, AT_S, zone) == "17:00"
    assert clock(AT_S + 16 * 3600, AT_S, zone) == "08:00 tomorrow"
    assert clock(AT_S + 48 * 3600, AT_S, zone) == "16:00 on Thursday"


# Windows


def window(minutes: float = 30.0, ready_by: time | None = None, **changes: object):
    dish = Dish("Stew", {}, 400.0, ready_by)
    return start_window(DishRequest(dish, **changes), cooking_boat(), AT_S, minutes)


def test_without_a_time_a_dish_can_wait_twelve_hours():
    found = window()
    assert (found.first_s, found.last_s) == (AT_S, AT_S + 12 * 3600)


def test_a_dish_must_start_its_minutes_before_it_is_ready():
    found = window(30.0, time(19, 30))
    assert found.last_s == unix("2026-05-12T19:00:00")
    assert not found.late


def test_a_little_late_is_today_and_very_late_is_tomorrow():
    assert window(30.0, time(16, 15)).late
    assert window(30.0, time(15, 30)).late
    assert window(30.0, time(13, 0)).last_s == unix("2026-05-13T12:30:00")


def test_a_request_may_say_when():
    found = window(first_start_s=AT_S + 3600.0, ready_by_s=AT_S + 3 * 3600.0)
    assert (found.first_s, found.last_s) == (AT_S + 3600.0, AT_S + 9000.0)
    assert window(ready_by_s=AT_S + 900.0).late
    assert window(window_hours=99.0).last_s == AT_S + 24 * 3600.0


def test_a_clock_shows_every_time_within_two_days():
    boat = cooking_boat()
    for hour in range(24):
        moment = next_time_s(boat, AT_S, time(hour, 0))
        assert AT_S <= moment <= AT_S + 86_400.0


# Limits


def view_of(boat=None):
    return Outlook(boat or cooking_boat()).view()


def test_a_dish_of_watt_hours_alone_still_loads_the_inverter():
    view = view_of(cooking_boat(inverter=Inverter(500, 18, 0.9)))
    cost = view.cookbook.cost(view.boat, Dish("Stew", {}, 600.0))
    (over,) = overloads(view, [draw_of(view, cost)])
    assert over.kind is LimitKind.INVERTER
    assert over.wanted == pytest.approx(1200.0)
    assert draw_of(view, cost).total_w == pytest.approx(1200.0)


def test_a_measured_peak_below_the_plates_is_believed():
    view = view_of()
    cost = DishCost(
        800.0, 50.0, 60.0, 2400.0, ("Hob", "Oven", "Gone"), CostSource.PAST_MEALS, 4
    )
    draw = draw_of(view, cost)
    assert set(draw.appliances) == {"Hob", "Oven"}
    assert draw.total_w == pytest.approx(2400.0)
    assert overloads(view, [draw]) == ()


def test_a_dc_appliance_passes_by_the_inverter_but_not_the_bank():
    cooler = Appliance("Slow pot", Kind.SLOW_COOKER, 300.0, supply=Supply.DC)
    bank = Bank(560, 12.8, 35, max_discharge_current_a=150.0)
    boat = cooking_boat(
        appliances=(HOB, OVEN, cooler), inverter=Inverter(1800, 18, 0.9), bank=bank
    )
    view = view_of(boat)
    assert overloads(view, [Draw({"Slow pot": 300.0})]) == ()
    kinds = {
        o.kind for o in overloads(view, [Draw({"Hob": 1700.0, "Slow pot": 300.0})])
    }
    assert kinds == {LimitKind.BANK}


def test_a_boat_without_inverter_or_limits_has_no_overload():
    view = view_of(cooking_boat(inverter=None, circuits=()))
    assert overloads(view, [Draw({"Hob": 9000.0})]) == ()
    assert overloads(view, []) == ()


def test_the_worst_overload_comes_first():
    boat = cooking_boat(bank=Bank(560, 12.8, 35, max_discharge_current_a=50.0))
    found = overloads(view_of(boat), [Draw({"Hob": 1800.0, "Oven": 1500.0})])
    assert found[0].kind is LimitKind.BANK
    ratios = [o.wanted / o.allowed for o in found]
    assert ratios == sorted(ratios, reverse=True)


# Freshness


def test_a_counting_boat_that_has_no_voltage_yet_says_so():
    sensors = Sensors(
        ac_load_power=Sensor("sensor.load"),
        battery_current=Sensor("sensor.amps"),
        battery_voltage=Sensor("sensor.volts"),
    )
    outlook = Outlook(cooking_boat(sensors=sensors, solar=None))
    outlook.observe(LoadSample(AT_S, 50.0, battery_a=-4.0))
    view = outlook.view()
    assert view.charge.source is ChargeSource.UNKNOWN
    (reason,) = check_freshness(view, AT_S).missing
    assert reason == (
        "The state of charge is counted from the battery's voltage on, and "
        "the battery's voltage meter (sensor.volts) has told none yet."
    )


def test_a_dark_array_in_the_polar_night_is_not_missed():
    outlook = Outlook(cooking_boat(latitude=78.0, longitude=15.0))
    start_s = unix("2026-12-10T00:00:00")
    for step in range(40):
        outlook.observe(
            LoadSample(start_s + 900.0 * step, 50.0, None, None, -60.0, soc=80.0)
        )
    fresh = check_freshness(outlook.view(), start_s + 39 * 900.0)
    assert fresh.missing == ()
    (note,) = fresh.notes
    (meter,) = outlook.boat.sensors.solar_power
    assert note == (
        f"The solar meter ({meter.entity_id}) does not tell the sun's power now; "
        "the array's past stands in."
    )


def test_of_several_solar_meters_all_are_named():
    sensors = Sensors(
        solar_power=(Sensor("sensor.port"), Sensor("sensor.starboard")),
        battery_power=Sensor("sensor.bank"),
        battery_soc=Sensor("sensor.soc"),
    )
    outlook = Outlook(cooking_boat(sensors=sensors))
    outlook.observe(LoadSample(AT_S, 50.0, None, None, -60.0, soc=80.0))
    (note,) = check_freshness(outlook.view(), AT_S).notes
    assert note.startswith(
        "The solar meters (sensor.port, sensor.starboard) do not all"
    )


def test_verdicts_have_the_contracts_names():
    assert {v.value for v in Verdict} == {"cook_now", "wait", "hold_off", "unknown"}


# Steps


@given(st.integers(12, 28), st.integers(1, 40))
def test_doubt_is_dealt_evenly(count, stride):
    dealt = even_deviations(count, stride)
    assert len(set(dealt)) == count
    assert sum(dealt) == pytest.approx(0.0, abs=1e-9)
    variance = sum(z * z for z in dealt) / count
    assert 0.85 < variance < 1.0


@given(st.floats(-5000, 100_000), st.floats(60, 20_000))
def test_a_use_fills_the_steps_that_it_touches(begin_s, length_s):
    grid = Grid(0.0, 96)
    parts = spread_over_steps(grid, begin_s, length_s)
    inside = max(min(begin_s + length_s, 86_400.0) - max(begin_s, 0.0), 0.0)
    assert sum(share for _, share in parts) * 900.0 == pytest.approx(inside, abs=1e-5)
    assert all(0.0 < share <= 1.0 + 1e-9 for _, share in parts)


def test_the_first_step_at_or_after_a_moment():
    grid = Grid(AT_S, 96)
    assert [grid.index(AT_S + s) for s in (-5.0, 0.0, 1.0, 900.0)] == [0, 0, 1, 1]
    assert replace(grid, steps=4).steps == 4
