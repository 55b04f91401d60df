"""A day's plan: what may run together, and what comes out of the bank."""

from dataclasses import replace
from functools import cache
from itertools import combinations

from hypothesis import HealthCheck, given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.advice.limits import Draw, overloads
from custom_components.galley_loads.core.advice.plan import DayPlan, plan_day
from custom_components.galley_loads.core.advice.request import DishRequest, request_dish
from custom_components.galley_loads.core.bank.charge_state import (
    ChargeSource,
    ChargeState,
)
from custom_components.galley_loads.core.boat.boat import Bank, Circuit, Dish, Inverter
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.outlook.outlook_view import OutlookView
from tests.core.outlook.outlook_rig import Life, cooking_boat, unix
from tests.said import all_said, said

START_S = unix("2026-05-01T00:00:00")
PORRIDGE, STEW, ROAST, TEA, WATER = "Porridge", "Fish stew", "Roast", "Tea", "Hot water"
DISHES = (
    Dish(PORRIDGE, {"Hob": 15.0}, 120.0),
    Dish(STEW, {"Hob": 25.0}, 420.0),
    Dish(ROAST, {"Oven": 60.0}, 900.0),
    Dish(TEA, {"Kettle": 5.0}, 100.0),
    Dish(WATER, {"Water heater": 30.0}, 600.0),
)


@cache
def morning() -> OutlookView:
    """Ten clear days aboard, seen at eight in the morning, the bank at 70 %."""
    boat = cooking_boat(dishes=DISHES, inverter=Inverter(2500, 18, 0.9))
    outlook = Outlook(boat)
    Life(boat).live(outlook, START_S, 10 + 8 / 24)
    view = outlook.view()
    return replace(view, charge=ChargeState(ChargeSource.GAUGE, 70.0, 0.7))


def planned(view: OutlookView, *names: str, **changes: object) -> DayPlan:
    requests = [replace(request_dish(view.boat, name), **changes) for name in names]
    return plan_day(view, requests, view.last.at_s)


def test_every_dish_finds_its_place_towards_noon():
    plan = planned(morning(), PORRIDGE, STEW, ROAST, WATER)
    assert {d.dish for d in plan.dishes} == {PORRIDGE, STEW, ROAST, WATER}
    hours = [(d.start_s - START_S) % 86_400 / 3600 for d in plan.dishes]
    assert all(9.0 <= hour <= 18.5 for hour in hours)
    assert plan.keeps_reserve
    assert plan.soc_lowest_p10 <= plan.soc_lowest


def test_the_plan_draws_less_than_cooking_everything_at_once_when_asked():
    view = morning()
    names = (PORRIDGE, STEW, ROAST, WATER)
    plan = planned(view, *names)
    at_once = [
        plan_day(
            view,
            [replace(request_dish(view.boat, name), window_hours=0.0)],
            view.last.at_s,
        )
        for name in names
    ]
    assert plan.drawn_ah < 0.85 * sum(p.drawn_ah for p in at_once)


def test_what_runs_together_never_exceeds_inverter_or_breakers():
    view = morning()
    plan = planned(view, STEW, ROAST, WATER, TEA, window_hours=1.5)
    draws = {
        d.dish: Draw(
            {n: view.boat.appliance(n).rated_power_w for n in d.cost.appliances}
        )
        for d in plan.dishes
    }
    placed = [d for d in plan.dishes if d.start_s is not None]
    assert len(placed) >= 3
    for one, other in combinations(placed, 2):
        if one.start_s < other.end_s and other.start_s < one.end_s:
            assert not overloads(view, [draws[one.dish], draws[other.dish]])


def test_no_appliance_is_needed_twice_at_once():
    plan = planned(morning(), PORRIDGE, STEW, window_hours=0.75)
    first, second = plan.dishes
    assert first.end_s <= second.start_s


def test_what_finds_no_place_is_said():
    plan = planned(morning(), PORRIDGE, STEW, window_hours=0.0)
    lost = [d for d in plan.dishes if d.start_s is None]
    assert [d.dish for d in lost] == [PORRIDGE]
    assert any(
        f"{PORRIDGE} finds no place" in reason for reason in all_said(plan.reasons)
    )


def test_a_dish_that_overloads_by_itself_is_named():
    view = morning()
    boat = replace(view.boat, circuits=(Circuit("Galley 1", 5, 230),))
    plan = planned(replace(view, boat=boat), ROAST, TEA)
    assert any(
        reason.startswith("Roast: Overload: 6.5 A") for reason in all_said(plan.reasons)
    )
    assert [d.dish for d in plan.dishes if d.start_s is None] == [ROAST]


def test_the_bank_limit_keeps_two_dishes_apart():
    view = morning()
    one_at_a_time = Bank(560, 12.8, 35, max_discharge_current_a=190.0)
    boat = replace(view.boat, bank=one_at_a_time, inverter=Inverter(6000, 18, 0.9))
    plan = planned(replace(view, boat=boat), STEW, WATER, window_hours=1.0)
    first, second = plan.dishes
    assert first.end_s <= second.start_s


def test_a_poor_bank_is_told_to_be_poor():
    low = replace(morning(), charge=ChargeState(ChargeSource.GAUGE, 36.0, 0.7))
    plan = planned(low, ROAST, WATER, STEW, window_hours=1.0)
    assert not plan.keeps_reserve
    assert said(plan.reasons[-1]).startswith("Together they draw about")


def test_without_readings_there_is_no_plan():
    boat = cooking_boat()
    plan = plan_day(Outlook(boat).view(), [DishRequest(DISHES[0])], START_S)
    assert plan.dishes == ()
    assert "no readings yet" in said(plan.missing[0])


def test_a_plan_of_nothing_is_the_bank_alone():
    plan = plan_day(morning(), [], morning().last.at_s)
    assert plan.dishes == ()
    assert plan.drawn_ah == 0.0
    assert plan.chance_above_reserve == pytest.approx(1.0)


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.sampled_from([d.name for d in DISHES]), unique=True, min_size=1),
    st.sampled_from([1.0, 4.0, 12.0]),
)
def test_every_plan_is_coherent(names, window_hours):
    view = morning()
    plan = planned(view, *names, window_hours=window_hours)
    assert plan == planned(view, *names, window_hours=window_hours)
    assert sorted(d.dish for d in plan.dishes) == sorted(names)
    for dish in plan.dishes:
        if dish.start_s is not None:
            assert 0 <= dish.start_s - view.last.at_s <= window_hours * 3600
            assert dish.drawn_ah >= 0.0
    placed = [d for d in plan.dishes if d.start_s is not None]
    for one, other in combinations(placed, 2):
        if set(one.cost.appliances) & set(other.cost.appliances):
            assert one.end_s <= other.start_s or other.end_s <= one.start_s
