"""Advice at the ends of the earth, across the date line, and on the day the clock changes."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from custom_components.galley_loads.core.advice import Verdict, advise, request_dish
from custom_components.galley_loads.core.outlook.outlook import Outlook
from tests.core.outlook.outlook_rig import (
    DINNER,
    Life,
    broken_clouds,
    cooking_boat,
    unix,
)

from .sandpiper import PORRIDGE, START_S, STEW, at_charge


def test_at_70_north_in_december_no_sun_is_waited_for():
    boat = cooking_boat(
        latitude=70.0, longitude=19.0, time_zone=ZoneInfo("Europe/Oslo")
    )
    outlook = Outlook(boat)
    start_s = unix("2026-12-08T00:00:00")
    Life(boat, soc=95.0, background_w=30.0, uses=()).live(outlook, start_s, 5.4)
    view = at_charge(outlook.view(), 80.0)
    answer = advise(view, request_dish(boat, STEW), view.last.at_s)
    assert answer.verdict is Verdict.COOK_NOW
    assert answer.sunrise_s is None
    assert answer.soc_at_sunrise is None
    assert answer.full_at_s is None
    assert all(step.solar_w_p90 == 0.0 for step in answer.forecast)


def test_under_the_midnight_sun_the_answer_stands_too():
    boat = cooking_boat(
        latitude=75.0, longitude=19.0, time_zone=ZoneInfo("Europe/Oslo")
    )
    outlook = Outlook(boat)
    start_s = unix("2026-06-12T00:00:00")
    Life(boat, soc=60.0).live(outlook, start_s, 4.0)
    view = outlook.view()
    answer = advise(view, request_dish(boat, STEW), view.last.at_s)
    assert answer.verdict is not Verdict.UNKNOWN
    assert min(step.solar_w for step in answer.forecast) > 5.0


def test_crossing_the_date_line_changes_nothing_but_the_date():
    answers = []
    for longitude in (179.9, -179.9):
        boat = cooking_boat(
            latitude=-17.0, longitude=longitude, time_zone=ZoneInfo("UTC")
        )
        outlook = Outlook(boat)
        life = Life(boat, clear_sky_index=broken_clouds)
        life.live(outlook, START_S, 9.0)
        # Seen from the other side of the line: a mile away, a day apart by the calendar.
        outlook.observe_position(-17.0, -longitude)
        view = at_charge(outlook.view(), 60.0)
        answers.append(advise(view, request_dish(boat, STEW), view.last.at_s))
    east, west = answers
    assert east.verdict is west.verdict
    assert east.drawn_ah == pytest.approx(west.drawn_ah, abs=1.0)
    assert east.soc_lowest == pytest.approx(west.soc_lowest, abs=2.0)
    for one, other in zip(east.forecast, west.forecast, strict=True):
        assert one.solar_w == pytest.approx(other.solar_w, abs=25.0)
    assert sum(step.solar_w for step in east.forecast) > 0.0


def test_on_the_day_the_clock_changes_dinner_stays_at_seven_by_the_clock():
    # The Azores put the clock back on 25 October 2026 at 01:00 UTC.
    boat = cooking_boat()
    outlook = Outlook(boat)
    Life(boat, uses=(DINNER,)).live(outlook, unix("2026-10-17T00:00:00"), 7.9)
    view = at_charge(outlook.view(), 80.0)
    at_s = view.last.at_s
    assert datetime.fromtimestamp(at_s, UTC).day == 24
    answer = advise(view, request_dish(boat, PORRIDGE), at_s)
    # By then the boat's clock is UTC-1: seven in the evening is 20:00 UTC, not 19:00.
    seven_s = unix("2026-10-25T20:00:00")
    course = {step.at_s: step.soc for step in answer.forecast}
    falls = {
        at_s: before - after
        for (at_s, before), (_, after) in pairwise(sorted(course.items()))
    }
    steepest_s = max(falls, key=falls.get)
    if steepest_s < seven_s - 1800.0:  # Tonight's dinner is within the look as well.
        falls = {at: fall for at, fall in falls.items() if at > at_s + 10 * 3600.0}
        steepest_s = max(falls, key=falls.get)
    assert seven_s - 900.0 <= steepest_s <= seven_s + 2700.0
