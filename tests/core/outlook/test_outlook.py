"""What the learner makes of the days that a boat lives through."""

from copy import replace
from itertools import pairwise
import json

import pytest

from custom_components.galley_loads.core.advice.scenario import build_scenario
from custom_components.galley_loads.core.bank.bank_meter import LoadVoltage
from custom_components.galley_loads.core.boat.boat import Inverter, Sensor, Sensors
from custom_components.galley_loads.core.events import (
    MealSettled,
    RunSettled,
    SpanSettled,
)
from custom_components.galley_loads.core.inference.model.activity import Run, Segment
from custom_components.galley_loads.core.ledger.account import Flow, Share
from custom_components.galley_loads.core.meals.dish_cost import Cooking
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.demand_history import DemandHistory
from custom_components.galley_loads.core.outlook.outlook import Outlook, OutlookState
from custom_components.galley_loads.core.sky.array_yield import sky_cell
from custom_components.galley_loads.core.sky.sky_history import (
    DAYS_KEPT,
    UNKNOWN,
    clear_sky_index_of,
)
from custom_components.galley_loads.core.sky.solar_forecast import ForecastPeriod
from custom_components.galley_loads.core.sky.sun import sun_position
from custom_components.galley_loads.core.stateful import checked

from .outlook_rig import (
    BREAKFAST,
    DAY_S,
    DINNER,
    TRUE_YIELD,
    Life,
    Use,
    broken_clouds,
    cooking_boat,
    meal_of,
    unix,
)

START_S = unix("2026-05-01T00:00:00")


def lived(days: float, start_s: float = START_S, **changes: object) -> Outlook:
    boat = changes.pop("boat", None) or cooking_boat()
    outlook = Outlook(boat)
    Life(boat, **changes).live(outlook, start_s, days)
    return outlook


def median_sun_wh(outlook: Outlook, at_s: float) -> float:
    view = outlook.view().sky
    steps = view.steps_ahead(at_s, 96)
    members = view.clear_sky_index_ahead(at_s, steps)
    middle = [sorted(column)[len(column) // 2] for column in zip(*members, strict=True)]
    return sum(k * s.clear_w for k, s in zip(middle, steps, strict=True)) / 4.0


def test_the_array_yields_what_it_gave_under_a_clear_sky():
    outlook = lived(12)
    at_s = START_S + 12.5 * DAY_S + 3600
    sun = sun_position(38.53, -28.62, at_s)
    found = outlook.view().sky.yield_table[sky_cell(sun)]
    assert found == pytest.approx(TRUE_YIELD, rel=0.03)


def test_the_shade_of_a_mast_shows_in_the_yield():
    def mast(sun):
        return 0.4 if 170.0 <= sun.azimuth_deg < 195.0 else 1.0

    view = lived(12, shade=mast).view()
    noon_s = START_S + 12 * DAY_S + 50_400.0
    by_azimuth = {}
    for minutes in range(-240, 241, 10):
        at_s = noon_s + 60 * minutes
        sun = sun_position(38.53, -28.62, at_s)
        by_azimuth[sun.azimuth_deg] = view.clear_power_w(at_s) / max(
            Life(view.boat).sun_w(at_s), 1.0
        )
    shaded = [r for azimuth, r in by_azimuth.items() if 173.0 <= azimuth < 192.0]
    free = [r for azimuth, r in by_azimuth.items() if not 160.0 <= azimuth < 205.0]
    assert max(shaded) < 0.65
    assert min(free) > 0.9


def test_sun_that_a_full_bank_turned_away_is_not_taken_for_cloud():
    # A small draw and a full bank from mid-morning on, day after day under a clear sky.
    outlook = lived(10, soc=97.0, background_w=25.0, uses=())
    view = outlook.view()
    held_back = sum(ratio < UNKNOWN for day in view.sky.days for ratio in day.ratio)
    assert held_back > 100
    clear_wh = sum(
        Life(view.boat).sun_w(START_S + 10 * DAY_S + 900 * i) / 4.0 for i in range(96)
    )
    expected_wh = median_sun_wh(outlook, START_S + 10 * DAY_S)
    assert expected_wh == pytest.approx(clear_wh, rel=0.12)


def test_a_cloudy_week_is_expected_to_go_on_cloudy():
    def dull(at_s):
        return 0.35 + 0.1 * (int(at_s // 3600) % 3)

    outlook = lived(
        13, clear_sky_index=lambda t: 1.0 if t < START_S + 5 * DAY_S else dull(t)
    )
    clear_wh = sum(
        Life(outlook.boat).sun_w(START_S + 13 * DAY_S + 900 * i) / 4.0
        for i in range(96)
    )
    assert median_sun_wh(outlook, START_S + 13 * DAY_S) < 0.75 * clear_wh


def test_todays_clear_sky_index_fades_into_that_of_recent_days():
    boat = cooking_boat()
    last_day = START_S + 15 * DAY_S

    def sky(at_s):
        return 0.25 if at_s > last_day else 0.95

    outlook = Outlook(boat)
    Life(boat, clear_sky_index=sky).live(outlook, START_S, 15.5)
    at_s = START_S + 15.5 * DAY_S
    view = outlook.view().sky
    steps = view.steps_ahead(at_s, 96)
    members = view.clear_sky_index_ahead(at_s, steps)
    means = [sum(column) / len(column) for column in zip(*members, strict=True)]
    soon = [m for m, s in zip(means, steps, strict=True) if s.nights == 0][:4]
    tomorrow = [
        m
        for m, s in zip(means, steps, strict=True)
        if s.nights == 1 and s.clear_w > 50.0
    ]
    assert sum(soon) / len(soon) < 0.5
    assert sum(tomorrow) / len(tomorrow) > 0.65


def test_the_owners_forecast_carries_the_level():
    outlook = lived(15, clear_sky_index=broken_clouds)
    at_s = START_S + 15 * DAY_S
    without = median_sun_wh(outlook, at_s)
    outlook.observe_forecast(at_s, [ForecastPeriod(at_s, at_s + DAY_S, 0.4 * without)])
    low = median_sun_wh(outlook, at_s)
    outlook.observe_forecast(at_s, [ForecastPeriod(at_s, at_s + DAY_S, 1.2 * without)])
    high = median_sun_wh(outlook, at_s)
    assert low < 0.7 * without < high


def test_background_is_learnt_by_hour_of_the_week_without_the_cooking():
    view = lived(8, background_w=75.0).view()
    # Dinner takes 800 W for 45 minutes every evening; none of it is background.
    assert min(view.background_w) == pytest.approx(75.0, abs=6.0)
    assert max(view.background_w) == pytest.approx(75.0, abs=6.0)


def test_hot_water_from_a_heater_is_a_habit_and_no_background():
    shower = Use("hot water", 9.0, 20, 300.0)
    view = lived(6, uses=(BREAKFAST, shower, DINNER)).view()
    assert max(view.background_w) < 75.0
    assert sum(use.label == "hot water" for use in view.uses) == 6


def test_a_bank_that_has_aged_shows_in_what_a_percent_holds():
    view = lived(15, capacity_ah=420.0, background_w=120.0).view()
    stated_wh = 560 * 12.8 / 100.0
    assert view.point_energy.discharge_wh < 0.93 * stated_wh


def test_the_conversion_is_measured_from_the_boats_own_meters():
    boat = cooking_boat(inverter=Inverter(2500, 18, 0.80))
    view = lived(10, boat=boat).view()
    assert view.conversion.measured
    assert view.conversion.efficiency == pytest.approx(0.9, abs=0.015)


def test_a_gap_teaches_nothing():
    def gap(at_s, sample):
        if START_S + 5 * DAY_S < at_s < START_S + 6 * DAY_S:
            return replace(
                sample, load_w=None, solar_w=None, battery_w=None, voltage_v=None
            )
        return sample

    view = lived(8, hide=gap).view()
    day = next(d for d in view.sky.days if d.day == int((START_S + 5 * DAY_S) // DAY_S))
    assert sum(ratio != UNKNOWN for ratio in day.ratio) <= 1
    hours = [h for h in view.past_hours if h * 3600.0 > START_S + 5 * DAY_S]
    assert not any(h * 3600.0 < START_S + 5.95 * DAY_S for h in hours)


@pytest.mark.parametrize("cut_days", [0.3, 2.51, 5.0])
def test_a_restart_changes_nothing(cut_days):
    boat = cooking_boat()
    whole, first = Outlook(boat), Outlook(boat)
    life, again = (Life(boat, clear_sky_index=broken_clouds) for _ in range(2))
    life.live(whole, START_S, 7)
    at_s = again.live(first, START_S, cut_days)
    state = json.loads(json.dumps(first.snapshot()))
    second = Outlook(boat)
    second.restore(checked(OutlookState, state))
    assert second.snapshot() == first.snapshot()
    again.live(second, at_s, 7 - (at_s - START_S) / DAY_S)
    assert second.view() == whole.view()


def test_a_state_of_another_version_is_refused():
    boat = cooking_boat()
    state = {**Outlook(boat).snapshot(), "version": 99}
    with pytest.raises(ValueError, match="version 99"):
        Outlook(boat).restore(state)


def test_the_state_stays_small_however_long_the_boat_lives():
    boat = cooking_boat()
    outlook = Outlook(boat)
    life = Life(boat, clear_sky_index=broken_clouds)
    sizes = []
    at_s = START_S
    for _ in range(3):
        at_s = life.live(outlook, at_s, 11)
        sizes.append(len(json.dumps(outlook.snapshot())))
    assert sizes[-1] < 400_000
    assert all(later - before < 45_000 for before, later in pairwise(sizes))
    assert len(outlook.view().sky.days) == DAYS_KEPT + 1


def test_the_range_widens_where_it_was_too_narrow():
    # Weather of a kind the family has never seen: each quarter hour is a coin's throw.
    def coin(at_s):
        return 1.0 if (int(at_s // 900) * 2654435761) % 7 < 4 else 0.2

    def turned(at_s):
        return 0.8 if at_s < START_S + 12 * DAY_S else coin(at_s)

    outlook = lived(17, clear_sky_index=turned)
    spread = outlook.view().sky.spread
    assert max(spread.below) > 1.1


def test_a_boat_that_moved_has_the_sun_of_where_it_is_now():
    outlook = lived(3)
    outlook.observe_position(16.0, -61.5)
    assert outlook.view().position == (16.0, -61.5)
    noon_s = unix("2026-06-01T16:00:00")
    sun = sun_position(16.0, -61.5, noon_s)
    assert sun.zenith_deg < 15.0
    assert outlook.view().clear_power_w(noon_s) > 300.0


def test_an_array_of_unknown_nameplate_is_learnt_from_nothing():
    boat = cooking_boat(solar=None)
    life = Life(cooking_boat(), clear_sky_index=lambda at_s: 0.95)
    outlook = Outlook(boat)
    assert outlook.view().clear_power_w(unix("2026-05-01T14:00:00")) < 25.0
    life.live(outlook, START_S, 12)
    found_w = outlook.view().clear_power_w(START_S + 12 * DAY_S + 14 * 3600)
    assert found_w == pytest.approx(
        0.95 * Life(cooking_boat()).sun_w(START_S + 12 * DAY_S + 14 * 3600), rel=0.25
    )


def test_a_boat_without_a_battery_meter_learns_from_its_load():
    sensors = Sensors(
        ac_load_power=Sensor("sensor.load"), battery_soc=Sensor("sensor.soc")
    )
    boat = cooking_boat(sensors=sensors, solar=None)
    outlook = Outlook(boat)

    def loads_only(at_s, sample):
        return replace(
            sample, load_w=(sample.load_w or 0.0) + 45.0, solar_w=None, battery_w=None
        )

    Life(boat, hide=loads_only).live(outlook, START_S, 5)
    # 45 W AC at 0.9 and 18 W of idle.
    assert outlook.view().background_w[30] == pytest.approx(68.0, abs=3.0)


@pytest.mark.parametrize("bank_metered", [True, False], ids=["bank", "load"])
def test_an_own_meters_kettle_beside_a_dead_load_meter_is_not_taken_for_background(
    bank_metered: bool,
) -> None:
    """Half of every hour the load is dead, and a kettle of 1080 W boils in that half.

    The bank's meter sees it, the load's does not: in either case 108 W of other loads
    remain, 120 W at the bank's side of an inverter of 0.9 without idle draw.
    """
    sensors = Sensors(ac_load_power=Sensor("sensor.load"))
    if bank_metered:
        sensors = replace(sensors, battery_power=Sensor("sensor.bank"))
    inverter = Inverter(2500, idle_power_w=0.0, efficiency=0.9)
    boat = cooking_boat(sensors=sensors, solar=None, inverter=inverter)
    outlook = Outlook(boat)
    for half_hour in range(2 * 24 * 9):
        at_s = START_S + 1800.0 * half_hour
        dead = half_hour % 2 == 1
        load_w = None if dead else 108.0
        bank_w = -((1188.0 if dead else 108.0) / 0.9)
        outlook.observe(LoadSample(at_s, load_w, battery_w=bank_w, voltage_v=13.0))
        if dead:
            flow = Flow(
                at_s - 1800.0,
                at_s + 1800.0,
                54.0 + 540.0,
                {("Kettle", at_s): Share(540.0)},
                unmeasured_s=1800.0,
                own_meters_wh=540.0,
            )
            outlook.settle(SpanSettled(Segment(flow.start_s, flow.end_s), flow))
    assert outlook.view().background_w[30] == pytest.approx(120.0, rel=0.02)


def test_missing_days_are_holes_in_the_clear_sky_index():
    days = lived(4).view().sky.days
    table = lived(1).view().sky.yield_table
    gapped = [days[0], days[3]]
    past = clear_sky_index_of(gapped, table)
    assert len(past.seen) == 4 * 96
    assert all(k is None for k in past.seen[96:288])
    assert len(past.filled) == len(past.seen)
    assert clear_sky_index_of(gapped, table, past.first).seen == ()


def test_what_the_engine_settles_is_taken_in():
    boat = cooking_boat()
    outlook = Outlook(boat)
    hob = Run("Hob", START_S, START_S + 1200.0, 300.0, 1750.0, 0.9, ())
    water = Run(
        "Water heater", START_S + 7200.0, START_S + 9000.0, 600.0, 1200.0, 1.0, ()
    )
    meal = meal_of(Use("lunch", 0.0, 20, 300.0), START_S)
    flow = Flow(START_S, START_S + 1200.0, 310.0, {("Hob", START_S): Share(300.0)})
    for event in (
        SpanSettled(Segment(START_S, START_S + 1200.0), flow),
        RunSettled(hob),
        RunSettled(water),
        RunSettled(replace(hob, appliance="An old oven")),
        MealSettled(meal),
        MealSettled(meal),
    ):
        outlook.settle(event)
    view = outlook.view()
    assert [use.label for use in view.uses] == ["lunch", "hot water"]
    assert set(view.cookbook.runs) == {"Hob", "Water heater", "An old oven"}


def test_a_meal_labelled_with_a_dish_teaches_the_dish():
    boat = cooking_boat()
    outlook = Outlook(boat)
    stew = boat.dishes[1]
    meal = meal_of(Use("dinner", 19.0, 40, 660.0), START_S)
    outlook.label_meal(meal, stew.name)
    outlook.label_cooking(Cooking(START_S + DAY_S, 700.0, 45.0, 1800.0, ()), stew.name)
    learnt = outlook.view().cookbook.cost(boat, stew)
    assert learnt.energy_wh == pytest.approx((420 + 660 + 700) / 3)
    outlook.unlabel_meal(meal, stew.name)
    assert outlook.view().cookbook.cost(boat, stew).times == 1


@pytest.mark.parametrize(("every", "expected_wh"), [(1, 1000.0), (3, 0.0)])
def test_other_charging_that_comes_daily_is_counted_on(every, expected_wh):
    sensors = replace(
        cooking_boat().sensors, other_charging_power=(Sensor("sensor.alternator"),)
    )
    boat = cooking_boat(sensors=sensors)

    def motoring(at_s, sample):
        hour = at_s % DAY_S / 3600.0
        runs = 9 <= hour < 11 and int(at_s // DAY_S) % every == 0
        return replace(sample, other_charging_w=500.0 if runs else 0.0)

    outlook = Outlook(boat)
    at_s = Life(boat, hide=motoring, uses=()).live(outlook, START_S, 6)
    scenario = build_scenario(outlook.view(), at_s, 96)
    extra = [
        s - w for s, w in zip(scenario.supply_w[0], scenario.solar_w[0], strict=True)
    ]
    assert sum(extra) / 4.0 == pytest.approx(expected_wh, rel=0.05)


def test_an_unmetered_array_is_expected_by_its_plate():
    sensors = Sensors(
        ac_load_power=Sensor("sensor.load"),
        battery_power=Sensor("sensor.bank"),
        battery_soc=Sensor("sensor.soc"),
    )
    boat = cooking_boat(sensors=sensors)
    outlook = Outlook(boat)
    at_s = Life(boat, uses=()).live(outlook, START_S, 2)
    view = outlook.view()
    assert median_sun_wh(outlook, at_s) > 800.0
    # The bank's meter alone cannot tell the demand under an unseen sun.
    assert max(view.background_w) < 40.0


def test_a_bank_under_load_sags():
    voltage = LoadVoltage(13.2, 0.005)
    assert voltage.under_w(1300.0) == pytest.approx(12.69, abs=0.01)
    assert voltage.under_w(0.0) == 13.2
    assert LoadVoltage(13.2, 0.05).under_w(5000.0) == 6.6


def test_the_sag_is_learnt_from_what_the_bank_did():
    def sagging(at_s, sample):
        amps = -(sample.battery_w or 0.0) / 13.0
        return replace(sample, voltage_v=13.2 - 0.004 * amps)

    voltage = lived(6, hide=sagging, background_w=120.0).view().load_voltage
    assert voltage.ohm == pytest.approx(0.004, rel=0.15)
    assert voltage.at_rest_v == pytest.approx(13.2, abs=0.03)


def test_settling_that_never_comes_does_not_stop_the_learning():
    history = DemandHistory(cooking_boat().time_zone)
    for quarter in range(40):
        history.observe(START_S + 900.0 * quarter, 0.25, 80.0, 0.0, 0.0)
    assert len(history.hours) == 5
    # A single quarter hour is too little to stand for its hour.
    history.observe(START_S + 12 * 3600.0, 0.25, 80.0, 0.0, 0.0)
    history.observe(START_S + 20 * 3600.0, 0.25, None, 0.0, 0.0)
    assert int((START_S + 12 * 3600.0) // 3600) not in history.hours
