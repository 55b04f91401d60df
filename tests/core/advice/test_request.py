"""What can be asked about, and when a dish may start."""

from copy import replace
from datetime import time

import pytest

from custom_components.galley_loads.core.advice import (
    DishRequest,
    UnknownDish,
    Verdict,
    advise,
    request_dish,
)
from custom_components.galley_loads.core.advice.request import next_time_s, start_window
from custom_components.galley_loads.core.boat.boat import Dish
from custom_components.galley_loads.core.outlook.outlook import Outlook
from tests.core.outlook.outlook_rig import Life, cooking_boat, unix
from tests.said import all_said, refused, said

from .sandpiper import AT_S, STEW, ask, at_charge, sandpiper


def test_a_dish_of_which_nothing_is_known_cannot_be_advised_on():
    view = replace(sandpiper(13.5), boat=cooking_boat(dishes=(Dish("Mystery"),)))
    answer = ask(view, "Mystery")
    assert answer.verdict is Verdict.UNKNOWN
    assert "What Mystery takes is not known" in said(answer.reasons[0])


def test_a_dish_that_the_boat_does_not_have_is_refused_by_name():
    with refused(UnknownDish, match="'Soup' is not one of the boat's dishes"):
        request_dish(cooking_boat(), "Soup")


def test_ready_by_is_meant_by_the_clock_that_holds_then():
    boat = cooking_boat(dishes=(Dish(STEW, {"Hob": 25.0}, 420.0, time(8, 0)),))
    outlook = Outlook(boat)
    Life(boat, uses=()).live(outlook, unix("2026-10-23T00:00:00"), 1.95)
    view = at_charge(outlook.view(), 80.0)
    answer = advise(view, request_dish(boat, STEW), view.last.at_s)
    # Eight in the morning of the 25th is 09:00 UTC.
    latest_s = answer.starts[-1].at_s + 25 * 60.0
    assert unix("2026-10-25T08:45:00") < latest_s <= unix("2026-10-25T09:00:00")


def test_a_dish_that_is_late_can_only_start_now():
    boat = cooking_boat(dishes=(Dish(STEW, {"Hob": 60.0}, 420.0, time(14, 0)),))
    view = replace(at_charge(sandpiper(13.5), 90.0), boat=boat)
    answer = ask(view, STEW)
    assert len(answer.starts) == 1
    assert any("no longer be ready" in reason for reason in all_said(answer.reasons))


def test_arbitrary_appliances_and_minutes_can_be_asked_about():
    view = at_charge(sandpiper(13.5), 80.0)
    answer = advise(
        view, DishRequest(Dish("", {"Kettle": 4.0, "Hob": 10.0})), view.last.at_s
    )
    # 2000 W for four minutes, and a hob that boils for four of its ten minutes.
    assert 250.0 < answer.cost.energy_wh < 420.0
    assert answer.cost.peak_w == pytest.approx(3800.0)
    assert answer.overloads


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
