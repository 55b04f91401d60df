"""What the boat usually draws, and when its crew usually cooks."""

from datetime import UTC, datetime
import json
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.outlook.habits import (
    HOT_WATER,
    Use,
    WeeklyProfile,
    done_today,
    hour_of_week,
    shifted_s,
    usual_uses,
)

from .outlook_rig import DAY_S, unix

AZORES = ZoneInfo("Atlantic/Azores")
MONDAY_S = unix("2026-05-04T00:00:00")


def use(day: int, hour: float, label: str, energy_wh: float = 500.0) -> Use:
    start_s = MONDAY_S + day * DAY_S + hour * 3600.0
    return Use(start_s, start_s + 1800.0, label, energy_wh)


def test_the_week_begins_on_the_boats_monday():
    # In May the Azores keep UTC; in winter midnight is an hour later.
    assert hour_of_week(MONDAY_S, AZORES) == 0
    assert hour_of_week(unix("2026-01-05T00:00:00"), AZORES) == 167
    assert hour_of_week(MONDAY_S + 30 * 3600, AZORES) == 30


def test_the_profile_tells_sunday_from_monday():
    profile = WeeklyProfile()
    for _ in range(8):
        for hour in range(168):
            profile.observe(hour, 120.0 if hour >= 144 else 60.0)
    table = profile.table(18.0)
    assert table[150] > 1.5 * table[10]


def test_an_hour_that_was_never_seen_leans_on_the_same_hour_of_other_days():
    profile = WeeklyProfile()
    for day in range(5):
        for hour in range(24):
            for _ in range(5):
                profile.observe(day * 24 + hour, 150.0 if hour == 20 else 50.0)
    table = profile.table(18.0)
    assert table[6 * 24 + 20] > 110.0
    assert table[6 * 24 + 3] < 65.0


def test_before_anything_is_known_the_prior_holds():
    profile = WeeklyProfile()
    assert profile.table(18.0) == pytest.approx((18.0,) * 168)


def test_old_weeks_fade():
    profile = WeeklyProfile()
    for power_w in [50.0] * 20 + [100.0] * 10:
        profile.observe(5, power_w)
    assert profile.table(18.0)[5] > 80.0


@given(st.lists(st.tuples(st.integers(0, 167), st.floats(0, 1000)), max_size=60))
def test_the_profile_stays_within_what_was_seen(hours):
    profile, again = WeeklyProfile(), WeeklyProfile()
    for hour, power_w in hours:
        profile.observe(hour, power_w)
    table = profile.table(50.0)
    seen = [power_w for _, power_w in hours] + [50.0]
    assert min(seen) - 1e-9 <= min(table)
    assert max(table) <= max(seen) + 1e-9
    again.restore(json.loads(json.dumps(profile.snapshot())))
    assert again.table(50.0) == table


def test_a_dinner_on_most_days_is_usual_and_a_birthday_cake_is_not():
    uses = [use(day, 19.0 + 0.1 * (day % 3), "dinner") for day in range(10)]
    uses.append(use(4, 15.0, "snack", 900.0))
    found = usual_uses(uses, AZORES, MONDAY_S + 10 * DAY_S, MONDAY_S)
    assert [u.label for u in found] == ["dinner"]
    assert found[0].start_hour == pytest.approx(19.1, abs=0.05)
    assert found[0].energy_wh == 500.0
    assert found[0].share == 1.0


def test_two_showers_a_day_add_up():
    uses = [use(day, hour, HOT_WATER, 200.0) for day in range(6) for hour in (8, 20)]
    uses.sort(key=lambda u: u.start_s)
    (found,) = usual_uses(uses, AZORES, MONDAY_S + 6 * DAY_S, MONDAY_S)
    assert found.energy_wh == 400.0
    assert found.per_day == 2.0


def test_without_a_history_nothing_is_usual():
    assert usual_uses([], AZORES, MONDAY_S, None) == ()


def test_what_the_boats_day_has_had_is_not_expected_again():
    uses = [
        use(0, 19.0, "dinner"),
        use(1, 8.0, "breakfast"),
        use(1, 8.5, "hot drink"),
        use(1, 9.0, HOT_WATER),
    ]
    now_s = MONDAY_S + DAY_S + 12 * 3600.0
    assert done_today(uses, AZORES, now_s) == {"breakfast"}


def test_a_day_later_means_the_same_time_on_the_boats_clock():
    # The Azores put the clock back on 25 October 2026: that day has 25 hours.
    seven_s = unix("2026-10-24T19:00:00")
    assert shifted_s(seven_s, 1, AZORES) - seven_s == 25 * 3600.0
    assert shifted_s(seven_s, 2, AZORES) - seven_s == 49 * 3600.0
    assert datetime.fromtimestamp(shifted_s(seven_s, 1, AZORES), UTC).hour == 20
