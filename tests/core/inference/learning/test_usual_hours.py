"""What runs at its usual hour is the likelier hypothesis."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from custom_components.galley_loads.core.inference.learning.usual_hours import (
    UsualHours,
)
from tests.core.inference.galley import HEATER, HOB, KETTLE

AZORES = ZoneInfo("Atlantic/Azores")
ABOARD = (HOB, KETTLE, HEATER)


def at(hour: int, minute: int = 0, day: int = 12) -> float:
    """Return a Unix time of the boat's clock."""
    return datetime(2026, 5, day, hour, minute, tzinfo=AZORES).timestamp()


def crew_that_dines_at_seven(days: int = 10) -> UsualHours:
    hours = UsualHours(ABOARD, AZORES)
    for day in range(1, days + 1):
        hours.add(0, at(19, 10, day), 1.0)
    return hours


def test_a_new_crew_cooks_at_any_hour_of_the_day():
    hours = UsualHours(ABOARD, AZORES)
    for hour in range(5, 24):
        hob, kettle, _ = hours.factors(at(hour))
        assert hob == kettle == pytest.approx(22.0 / 19.0)


def test_a_new_crew_sleeps_at_night_and_its_thermostats_do_not():
    hours = UsualHours(ABOARD, AZORES)
    for hour in range(5):
        assert hours.factors(at(hour)) == pytest.approx((0.4, 0.4, 1.0))


def test_over_a_day_a_new_crew_cooks_no_more_and_no_less_than_any():
    hours = UsualHours(ABOARD, AZORES)
    day = [hours.factors(at(hour))[0] for hour in range(24)]
    assert sum(day) / 24.0 == pytest.approx(1.0)


def test_a_crew_that_keeps_watch_cooks_at_night():
    hours = UsualHours(ABOARD, AZORES)
    for day in range(1, 21):
        hours.add(1, at(2, 30, day), 1.0)
    assert hours.factors(at(2))[1] > 1.5


def test_the_hob_is_likelier_at_dinner_than_in_the_afternoon():
    hours = crew_that_dines_at_seven()
    assert hours.factors(at(19))[0] > 1.5
    assert hours.factors(at(15))[0] < 0.8


def test_meals_need_not_be_punctual():
    hours = crew_that_dines_at_seven()
    assert hours.factors(at(20))[0] > 1.0


def test_no_hour_is_ruled_out():
    hours = crew_that_dines_at_seven(days=28)
    assert min(hours.factors(at(hour))[0] for hour in range(24)) >= 0.4


def test_what_cooks_shares_the_galleys_hours_and_hot_water_does_not():
    hours = crew_that_dines_at_seven(days=20)
    _, kettle, heater = hours.factors(at(19))
    assert kettle > 1.2
    assert heater == pytest.approx(1.0)


def test_a_doubtful_run_counts_less_than_a_sure_one():
    sure, doubtful = UsualHours(ABOARD, AZORES), UsualHours(ABOARD, AZORES)
    for day in range(1, 3):
        sure.add(0, at(19, 0, day), 1.0)
        doubtful.add(0, at(19, 0, day), 0.2)
    assert sure.factors(at(19))[0] > doubtful.factors(at(19))[0]


def test_it_is_the_boats_clock_that_counts():
    auckland = ZoneInfo("Pacific/Auckland")
    hours = UsualHours(ABOARD, auckland)
    for day in range(1, 11):
        hours.add(0, at(19, 10, day), 1.0)
    # Seven in the evening off the Azores is seven in the morning there.
    breakfast = datetime(2026, 5, 20, 7, tzinfo=auckland).timestamp()
    dinner = datetime(2026, 5, 20, 19, tzinfo=auckland).timestamp()
    assert hours.factors(breakfast)[0] > hours.factors(dinner)[0]


def test_years_of_dinners_leave_room_for_new_habits():
    hours = UsualHours(ABOARD, AZORES)
    for number in range(2000):
        hours.add(0, at(19, 0, 1 + number % 28), 1.0)
    for number in range(200):
        hours.add(0, at(13, 0, 1 + number % 28), 1.0)
    assert hours.factors(at(13))[0] > 1.5


def test_a_restart_and_an_appliance_that_left_change_nothing_for_the_others():
    hours = crew_that_dines_at_seven()
    hours.add(1, at(7), 1.0)
    other = UsualHours((KETTLE, HOB), AZORES)
    other.restore(hours.snapshot())
    kettle, hob = other.factors(at(19))
    assert (hob, kettle) == hours.factors(at(19))[:2]
