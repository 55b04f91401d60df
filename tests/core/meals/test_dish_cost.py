"""What a dish takes: remembered, stated, or typical."""

import json

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Dish
from custom_components.galley_loads.core.inference.model.activity import Run
from custom_components.galley_loads.core.meals.dish_cost import (
    DISHES_KEPT,
    Cookbook,
    Cooking,
    CostSource,
    cooking_of,
    peak_together_w,
    reckon,
)
from custom_components.galley_loads.core.meals.meal_builder import Meal
from tests.core.outlook.outlook_rig import cooking_boat

BOAT = cooking_boat()
STEW = Dish("Fish stew", {"Hob": 25.0})


def run(appliance: str, start_s: float, minutes: float, wh: float, peak: float) -> Run:
    return Run(appliance, start_s, start_s + 60 * minutes, wh, peak, 1.0, ())


def meal(at_s: float, *runs: Run) -> Meal:
    return Meal(
        at_s,
        max(r.end_s for r in runs),
        "dinner",
        tuple(sorted({r.appliance for r in runs})),
        sum(r.energy_wh for r in runs),
        0.0,
        0.0,
        None,
        None,
        None,
        None,
        runs,
    )


def cost(book: Cookbook, dish: Dish):
    return book.page().cost(BOAT, dish)


def test_a_dish_with_stated_energy_takes_what_is_stated():
    found = cost(Cookbook(), Dish("Fish stew", {"Hob": 25.0}, 420.0))
    assert found.energy_wh == 420.0
    assert found.source is CostSource.STATED
    assert found.minutes == 25.0
    assert found.peak_w == 1800.0


def test_a_dish_of_energy_alone_is_spread_over_half_an_hour():
    found = cost(Cookbook(), Dish("Something", {}, 300.0))
    assert (found.minutes, found.peak_w, found.appliances) == (30.0, None, ())


def test_a_long_dish_of_energy_alone_is_not_squeezed_into_half_an_hour():
    found = cost(Cookbook(), Dish("Bread", {}, 1000.0))
    assert (found.minutes, found.peak_w) == (60.0, None)


def test_a_dish_of_minutes_takes_what_its_kinds_typically_draw():
    found = cost(Cookbook(), STEW)
    assert found.source is CostSource.TYPICAL
    # At most full power throughout; measured meals on induction for two to four people
    # lie between 140 and 510 Wh (published field and kitchen measurements).
    assert 140.0 < found.energy_wh < 1800.0 * 25 / 60


def test_an_oven_hour_is_within_the_regulation_s_bounds():
    # Regulation (EU) 66/2014: 0.697 kWh is the standard cycle of a 35 litre oven.
    found = cost(Cookbook(), Dish("Roast", {"Oven": 60.0}))
    assert 0.5 * 697 < found.energy_wh < 1.5 * 697


def test_a_kettle_boils_at_full_power():
    assert cost(Cookbook(), Dish("Tea", {"Kettle": 3.0})).energy_wh == 100.0


def test_past_meals_of_that_name_outweigh_what_is_stated():
    book = Cookbook()
    for day in range(5):
        book.note_cooking(
            "Fish stew",
            cooking_of(meal(day * 86_400.0, run("Hob", day * 86_400.0, 40, 600, 1700))),
        )
    found = cost(book, Dish("Fish stew", {"Hob": 25.0}, 420.0))
    assert found.source is CostSource.PAST_MEALS
    assert found.energy_wh == pytest.approx((5 * 600 + 420) / 6)
    assert found.minutes == 40.0
    assert found.peak_w == 1700.0
    assert found.appliances == ("Hob",)
    assert found.times == 5


def test_a_dish_that_varies_has_a_wide_spread():
    steady, varied = Cookbook(), Cookbook()
    for i in range(8):
        steady.note_cooking("Stew", Cooking(i, 500.0, 30.0, 1500.0, ("Hob",)))
        wh = 250.0 if i % 2 else 750.0
        varied.note_cooking("Stew", Cooking(i, wh, 30.0, 1500.0, ("Hob",)))
    dish = Dish("Stew")
    assert cost(varied, dish).spread_wh > 2 * cost(steady, dish).spread_wh
    assert cost(varied, dish).energy_wh == pytest.approx(500.0)


def test_the_same_meal_labelled_twice_counts_once():
    book = Cookbook()
    for energy_wh in (300.0, 320.0):
        book.note_cooking("Stew", Cooking(5.0, energy_wh, 30.0, 1500.0, ("Hob",)))
    assert cost(book, Dish("Stew")).times == 1
    assert cost(book, Dish("Stew")).energy_wh == 320.0


def test_a_meal_taken_back_is_forgotten():
    book = Cookbook()
    book.note_cooking("Stew", Cooking(5.0, 300.0, 30.0, 1500.0, ("Hob",)))
    book.note_cooking("Stew", Cooking(9.0, 400.0, 30.0, 1500.0, ("Hob",)))
    book.forget_cooking("Stew", 5.0)
    assert cost(book, Dish("Stew")).energy_wh == 400.0
    book.forget_cooking("Stew", 9.0)
    assert cost(book, Dish("Stew")).energy_wh == 0.0
    book.forget_cooking("Stew", 9.0)


def test_what_the_boats_own_hob_takes_per_minute_is_learnt():
    book = Cookbook()
    typical = cost(book, STEW).energy_wh
    for i in range(20):
        book.note_run(run("Hob", i * 1e4, 25, 0.6 * typical, 1790))
    assert cost(book, STEW).energy_wh == pytest.approx(0.6 * typical, rel=0.05)


def test_a_learnt_full_power_stays_within_a_tenth_of_the_plate():
    book = Cookbook()
    for i in range(5):
        book.note_run(run("Hob", i * 1e4, 10, 100, 900))
        book.note_run(run("Kettle", i * 1e4, 3, 95, 2080))
    page = book.page()
    assert page.full_power_w(BOAT, "Hob") == pytest.approx(1620.0)
    assert page.full_power_w(BOAT, "Kettle") == pytest.approx(2080.0)
    assert page.full_power_w(BOAT, "Oven") == 1500.0


def test_minutes_of_an_appliance_that_is_not_aboard_are_refused():
    with pytest.raises(KeyError):
        Cookbook().page().cost_of_minutes(BOAT, {"Grill": 10.0})


def test_the_peak_counts_what_overlaps():
    hob, oven = run("Hob", 0, 30, 500, 1800), run("Oven", 900, 30, 500, 1500)
    tea = run("Kettle", 1800, 3, 100, 2000)
    assert peak_together_w([hob, oven]) == 3300.0
    assert peak_together_w([hob, tea]) == 2000.0
    assert peak_together_w([]) == 0.0


def test_a_cooked_dish_is_reckoned_against_what_was_expected():
    expected = cost(Cookbook(), Dish("Stew", {"Hob": 25.0}, 420.0))
    cooked = reckon("Stew", expected.energy_wh, meal(0.0, run("Hob", 0, 25, 465, 1800)))
    assert (cooked.expected_wh, cooked.taken_wh) == (420.0, 465.0)
    assert cooked.difference_wh == 45.0
    assert cooked.difference_percent == pytest.approx(100 * 45 / 420)


def test_the_book_is_bounded():
    book = Cookbook()
    for i in range(DISHES_KEPT + 20):
        book.note_cooking(f"Dish {i}", Cooking(i, 300.0, 30.0, 1500.0, ()))
    for i in range(50):
        book.note_cooking("Stew", Cooking(i, 300.0, 30.0, 1500.0, ()))
    page = book.page()
    assert len(page.dishes) == DISHES_KEPT
    assert len(page.cookings("Stew")) == 20


def test_a_run_without_length_teaches_nothing():
    book = Cookbook()
    book.note_run(run("Hob", 5, 0, 1, 1))
    assert book.page().runs == {}


@given(
    st.lists(
        st.tuples(st.floats(0, 1e9), st.floats(1, 3000), st.floats(1, 300)), max_size=30
    )
)
def test_the_book_survives_a_restart(cookings):
    book, again = Cookbook(), Cookbook()
    for at_s, energy_wh, minutes in cookings:
        book.note_cooking("Stew", Cooking(at_s, energy_wh, minutes, 900.0, ("Hob",)))
        book.note_run(run("Hob", at_s, minutes, energy_wh, 900.0))
    again.restore(json.loads(json.dumps(book.snapshot())))
    assert again.page() == book.page()
