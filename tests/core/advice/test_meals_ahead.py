"""Meals that the crew usually cooks in the hours that advice looks ahead to."""

from copy import replace

from custom_components.galley_loads.core.advice import advise, request_dish
from tests.core.outlook.outlook_rig import BREAKFAST, DINNER, Use
from tests.said import all_said

from .sandpiper import PORRIDGE, STEW, ask, at_charge, sandpiper


def test_dinner_at_seven_is_known_at_four():
    with_dinner = ask(at_charge(sandpiper(16.0), 60.0), PORRIDGE)
    without = ask(at_charge(sandpiper(16.0, uses=(BREAKFAST,)), 60.0), PORRIDGE)
    # 600 Wh at 0.9 are about nine percent of this bank; the two weeks before differ too.
    assert 6.0 < without.soc_lowest - with_dinner.soc_lowest < 13.0
    assert any(
        "dinner is usual at 19:00" in reason for reason in all_said(with_dinner.reasons)
    )


def test_a_dish_that_takes_the_place_of_dinner_is_not_counted_twice():
    view = at_charge(sandpiper(16.0), 60.0)
    on_top, instead = ask(view, STEW), ask(view, STEW, instead_of="dinner")
    assert instead.starts[0].soc_lowest > on_top.starts[0].soc_lowest + 4.0
    assert not any("dinner is usual" in reason for reason in all_said(instead.reasons))


def test_a_dinner_that_is_being_cooked_is_not_expected_again():
    view = at_charge(sandpiper(18.9), 60.0)
    request = request_dish(view.boat, PORRIDGE)
    expecting = advise(view, request, view.last.at_s)
    cooking = advise(view, request, view.last.at_s, cooking_now="dinner")
    assert cooking.soc_lowest > expecting.soc_lowest + 4.0


def test_a_dinner_that_was_early_today_is_not_expected_again():
    view = at_charge(sandpiper(17.5), 60.0)
    dinner = next(u for u in reversed(view.uses) if u.label == "dinner")
    early = replace(
        dinner, start_s=view.last.at_s - 3600.0, end_s=view.last.at_s - 900.0
    )
    eaten = replace(view, uses=(*view.uses, early))
    assert ask(eaten, PORRIDGE).soc_lowest > ask(view, PORRIDGE).soc_lowest + 4.0


def test_tea_all_day_long_is_counted_but_given_no_hour():
    tea = tuple(Use("hot drink", hour, 5, 90.0) for hour in (10.5, 15.0, 17.5))
    answer = ask(at_charge(sandpiper(16.0, uses=(*tea, DINNER)), 60.0), PORRIDGE)
    habits = [reason for reason in all_said(answer.reasons) if "is usual" in reason]
    assert habits == [r for r in habits if "dinner" in r and "hot drink" not in r]
    assert habits
