"""What inverter, breakers and bank can give at once, and how too much is told."""

from copy import replace

import pytest

from custom_components.galley_loads.core.advice import Verdict
from custom_components.galley_loads.core.advice.limits import (
    Draw,
    LimitKind,
    background_ac_w,
    draw_of,
    overloads,
)
from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Circuit,
    Dish,
    Inverter,
    Supply,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.meals.dish_cost import (
    Cooking,
    CostSource,
    DishCost,
)
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.outlook import Outlook
from tests.core.boats import HOB, OVEN
from tests.core.outlook.outlook_rig import cooking_boat
from tests.said import said

from .sandpiper import STEW, ask, at_charge, sandpiper


def test_an_overload_of_the_inverter_is_named_first():
    boat = cooking_boat(
        dishes=(Dish("Feast", {"Hob": 30.0, "Oven": 60.0}),), circuits=()
    )
    view = replace(at_charge(sandpiper(13.5), 95.0), boat=boat)
    answer = ask(view, "Feast")
    assert answer.verdict is Verdict.HOLD_OFF
    assert answer.confidence == 1.0
    assert said(answer.reasons[0]).startswith("Overload: 3,3")
    assert "inverter's 2,500 W" in said(answer.reasons[0])
    assert "one after the other" in said(answer.reasons[0])


def test_an_overload_of_a_breaker_names_its_circuit():
    boat = cooking_boat(
        inverter=Inverter(5000, 18, 0.9),
        dishes=(Dish("Feast", {"Hob": 30.0, "Oven": 60.0}),),
        circuits=(Circuit("Galley 1", 12, 230),),
    )
    view = replace(at_charge(sandpiper(13.5), 95.0), boat=boat)
    reason = said(ask(view, "Feast").reasons[0])
    assert "breaker of Galley 1" in reason
    assert "14.3 A" in reason
    assert "12 A" in reason


def test_an_overload_of_the_bank_is_one_appliance_too_many():
    boat = cooking_boat(bank=Bank(560, 12.8, 35, max_discharge_current_a=120.0))
    view = replace(at_charge(sandpiper(13.5), 95.0), boat=boat)
    answer = ask(view, STEW)
    assert answer.verdict is Verdict.HOLD_OFF
    assert "more than the bank may give, 120 A" in said(answer.reasons[0])
    assert "one after the other" not in said(answer.reasons[0])


def test_what_fits_is_no_overload():
    assert ask(sandpiper(13.5), STEW).overloads == ()


def view_of(boat=None):
    return Outlook(boat or cooking_boat()).view()


def test_a_dish_of_watt_hours_alone_is_no_overload_of_anything():
    bank = Bank(560, 12.8, 35, max_discharge_current_a=60.0)
    view = view_of(cooking_boat(inverter=Inverter(500, 18, 0.9), bank=bank))
    for energy_wh in (120.0, 600.0, 1000.0, 3000.0):
        cost = view.cookbook.cost(view.boat, Dish("Bread", {}, energy_wh))
        assert cost.peak_w is None
        assert overloads(view, [draw_of(view, cost)], background_ac_w(view)) == ()


def test_once_cooked_such_a_dish_has_the_peak_that_was_measured():
    outlook = Outlook(cooking_boat(inverter=Inverter(500, 18, 0.9)))
    outlook.label_cooking(Cooking(0.0, 900.0, 55.0, 1450.0, ("Oven",)), "Bread")
    view = outlook.view()
    cost = view.cookbook.cost(view.boat, Dish("Bread", {}, 1000.0))
    (over,) = overloads(view, [draw_of(view, cost)])
    assert (over.kind, over.wanted) == (LimitKind.INVERTER, 1450.0)


def test_what_hangs_on_the_bank_directly_is_not_on_the_inverter():
    # 100 W at the bank's side, while the inverter's own meter shows 8 W.
    outlook = Outlook(cooking_boat(inverter=Inverter(1805, 18, 0.9), circuits=()))
    for quarter in range(40):
        outlook.observe(
            LoadSample(
                900.0 * quarter, 8.0, 0.0, battery_w=-100.0, voltage_v=13.2, soc=80.0
            )
        )
    view = outlook.view()
    assert background_ac_w(view) == 8.0
    assert overloads(view, [Draw({"Hob": 1796.0})], background_ac_w(view)) == ()
    assert overloads(view, [Draw({"Hob": 1798.0})], background_ac_w(view))


def test_an_inverter_without_a_meter_has_no_background_that_is_known():
    assert background_ac_w(view_of()) == 0.0


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
    cooler = Appliance("Slow pot", catalogue.SLOW_COOKER, 300.0, supply=Supply.DC)
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
