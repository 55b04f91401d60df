"""The family of possible skies, and what keeps its range honest."""

from dataclasses import replace
from functools import cache
import json
import random
from statistics import mean, pstdev

from hypothesis import given, settings, strategies as st
import numpy as np
import pytest

from custom_components.galley_loads.core.sky.sky_ensemble import (
    MEMBERS,
    PRIOR_MEMORY,
    SkyStep,
    clear_sky_index_members,
    memory_of,
)
from custom_components.galley_loads.core.sky.sky_history import (
    EMPTY,
    QUARTERS_PER_DAY,
    UNKNOWN,
    ClearSkyIndex,
    SkyDay,
    SkyHistory,
    clear_sky_index_of,
)
from custom_components.galley_loads.core.sky.sky_spread import (
    AS_IS,
    Spread,
    SpreadKeeper,
    lead_class,
)

TABLE = (1.0,) * 480
DAYLIGHT = range(28, 76)


def past_of(
    sky, days: int = 20, first_day: int = 1000, until: int | None = None
) -> ClearSkyIndex:
    """A past whose clear-sky index by day and quarter hour of the day is `sky`."""
    listed = []
    for day in range(first_day, first_day + days):
        ratio = [UNKNOWN] * QUARTERS_PER_DAY
        cell = [UNKNOWN] * QUARTERS_PER_DAY
        for quarter in DAYLIGHT:
            ratio[quarter] = round(1000 * sky(day, quarter))
            cell[quarter] = 0
        listed.append(
            SkyDay(day, tuple(ratio), tuple(cell), (UNKNOWN,) * QUARTERS_PER_DAY)
        )
    return clear_sky_index_of(listed, TABLE, until)


def steps_from(now: int, count: int = 96) -> list[SkyStep]:
    steps, nights, dark = [], 0, False
    for i in range(count):
        day = (now + i) % QUARTERS_PER_DAY in DAYLIGHT
        if not day:
            dark = True
        elif dark:
            dark, nights = False, nights + 1
        steps.append(SkyStep(now + i, 400.0 if day else 0.0, nights))
    return steps


@cache
def autoregressive(keeps: float, seed: int = 3):
    """Weather that keeps so much of a departure from one quarter hour to the next."""
    rng = random.Random(seed)
    series: list[float] = []
    x = 0.0
    for _ in range(400 * QUARTERS_PER_DAY):
        x = keeps * x + rng.gauss(0, 0.15 * (1 - keeps**2) ** 0.5)
        series.append(0.6 + x)
    return lambda day, quarter: series[(day - 1000) * QUARTERS_PER_DAY + quarter]


def test_how_weather_remembers_itself_is_a_regression():
    # numpy's least squares on the same hourly means is the reference.
    past = past_of(autoregressive(0.97), days=30)
    hours = [
        mean(v for v in past.seen[i : i + 4])
        if all(v is not None for v in past.seen[i : i + 4])
        else None
        for i in range(0, len(past.seen), 4)
    ]
    for lag in (1, 3, 6):
        pairs = [
            (a, b)
            for a, b in zip(hours, hours[lag:], strict=False)
            if a is not None and b is not None
        ]
        x, y = np.array(pairs).T
        slope = float(np.polyfit(x, y, 1)[0])
        found = memory_of(past).by_hour[lag]
        # Drawn a little to the prior: sixty pairs against hundreds.
        prior = PRIOR_MEMORY.by_hour[lag]
        low, high = sorted((slope, prior))
        assert low - 0.02 <= found <= high + 0.02
        assert abs(found - slope) < 0.6 * abs(prior - slope) + 0.02


def test_weather_that_forgets_is_known_to_forget():
    keeps = memory_of(past_of(autoregressive(0.985), days=28)).by_hour[4]
    forgets = memory_of(past_of(autoregressive(0.80), days=28)).by_hour[4]
    assert forgets < 0.5 * keeps


def test_without_a_past_common_sense_holds():
    assert memory_of(EMPTY).by_hour[1:] == PRIOR_MEMORY.by_hour[1:]
    assert memory_of(EMPTY).by_night == PRIOR_MEMORY.by_night
    members = clear_sky_index_members(EMPTY, PRIOR_MEMORY, 50, steps_from(50), {})
    assert len(members) == 12
    middle = [mean(column) for column in zip(*members, strict=True)]
    assert (
        mean(m for m, s in zip(middle, steps_from(50), strict=True) if s.clear_w) > 0.5
    )


def test_each_recent_day_lends_its_course():
    past = past_of(lambda day, quarter: 0.3 + 0.02 * (day - 1000))
    now = past.end
    members = clear_sky_index_members(past, memory_of(past), now, steps_from(now), {})
    assert len(members) == 20
    assert len(clear_sky_index_members(
        past_of(autoregressive(0.9), days=40), PRIOR_MEMORY, 1040 * 96, steps_from(now), {}
    )) == MEMBERS  # fmt: skip


def test_the_present_pulls_the_next_hour_but_not_tomorrow():
    def sky(day, quarter):
        return 0.15 if day == 1020 else (0.8 if day % 2 else 0.6)

    now = 1020 * QUARTERS_PER_DAY + 50
    past = past_of(sky, days=21, until=now)
    members = clear_sky_index_members(past, PRIOR_MEMORY, now, steps_from(now), {})
    middle = [mean(column) for column in zip(*members, strict=True)]
    assert middle[1] < 0.35
    tomorrow = [m for m, s in zip(middle, steps_from(now), strict=True) if s.nights]
    assert mean(m for m in tomorrow if m > 0.05) > 0.45


def test_the_range_of_a_known_process_holds():
    # Of an autoregressive process everything is known: four of five values must fall
    # between the 10 and 90 % values that its own past gives.
    sky = autoregressive(0.95, seed=8)
    inside = counted = 0
    for day in range(1030, 1130, 3):
        now = day * QUARTERS_PER_DAY + 44
        past = past_of(sky, days=30, first_day=day - 29, until=now)
        steps = steps_from(now)
        members = clear_sky_index_members(past, memory_of(past), now, steps, {})
        for i, step in enumerate(steps):
            if step.clear_w:
                column = sorted(m[i] for m in members)
                low, high = column[2], column[-3]
                true = sky(step.quarter // 96, step.quarter % 96)
                inside += low <= true <= high
                counted += 1
    assert 0.72 < inside / counted < 0.88


def test_a_forecast_carries_the_level_and_past_surprises_the_range():
    past = past_of(autoregressive(0.95), days=25)
    told = tuple(None if k is None else 0.6 for k in past.seen)
    past = replace(past, forecast=told)
    now = past.end
    steps = steps_from(now)
    forecast = {s.quarter: 0.3 * s.clear_w for s in steps if s.clear_w}
    members = clear_sky_index_members(past, memory_of(past), now, steps, forecast)
    columns = [
        c for c, s in zip(zip(*members, strict=True), steps, strict=True) if s.clear_w
    ]
    assert mean(mean(c) for c in columns) == pytest.approx(0.3, abs=0.08)
    assert 0.08 < mean(pstdev(c) for c in columns) < 0.25


def test_the_present_surprise_moves_the_next_hours_of_a_forecast():
    now = 1020 * QUARTERS_PER_DAY + 50
    past = past_of(lambda day, quarter: 0.9 if day == 1020 else 0.6, days=21, until=now)
    told = tuple(None if k is None else 0.6 for k in past.seen)
    past = replace(past, forecast=told)
    steps = steps_from(now)
    forecast = {s.quarter: 0.6 * s.clear_w for s in steps if s.clear_w}
    members = clear_sky_index_members(past, PRIOR_MEMORY, now, steps, forecast)
    soon = mean(m[1] for m in members)
    assert soon > 0.75


@settings(max_examples=30)
@given(st.integers(0, 40), st.integers(0, 95), st.floats(0.5, 3.0), st.booleans())
def test_no_sky_leaves_what_is_possible(days, hour, factor, with_forecast):
    now = (1000 + days) * QUARTERS_PER_DAY + hour
    past = past_of(autoregressive(0.9), days=days, until=now) if days else EMPTY
    steps = steps_from(now, 120)
    forecast = {s.quarter: 900.0 for s in steps} if with_forecast else {}
    spread = Spread((factor,) * 3, (factor,) * 3)
    members = clear_sky_index_members(
        past, memory_of(past), now, steps, forecast, spread
    )
    assert len(members) >= 12
    assert all(0.02 <= k <= 1.3 for member in members for k in member)
    assert members == clear_sky_index_members(
        past, memory_of(past), now, steps, forecast, spread
    )


def test_a_hole_by_day_is_filled_by_an_earlier_day_led_on():
    past = past_of(lambda day, quarter: 0.5 + 0.2 * (quarter % 2), days=5)
    seen = list(past.seen)
    days = []
    for i in range(5):
        part = seen[96 * i : 96 * i + 96]
        ratio = [UNKNOWN if k is None else round(1000 * k) for k in part]
        cell = [UNKNOWN if k is None else 0 for k in part]
        if i == 4:
            # A full bank from the middle of the day on: "at least 400 thousandths".
            for quarter in range(50, 76):
                ratio[quarter] = -(2 + 400)
        days.append(SkyDay(1000 + i, tuple(ratio), tuple(cell), (UNKNOWN,) * 96))
    filled = clear_sky_index_of(days, TABLE).filled[4 * 96 + 50 : 4 * 96 + 76]
    assert min(filled) >= 0.4
    # As lively as the days before, not one flat guess.
    assert pstdev(filled) > 0.05


def test_a_forecast_is_kept_beside_what_came():
    history = SkyHistory()
    assert not history.has_today
    for quarter in range(96 * 2):
        place = quarter % 96
        cell = 0 if place in DAYLIGHT else UNKNOWN
        history.observe(96_000 + quarter, cell, 0.5, False, 0.25)
    past = clear_sky_index_of((*history.days, history.today_so_far()), TABLE)
    assert [past.forecast[i] for i in (0, 40)] == [None, 0.25]
    again = SkyHistory()
    again.restore(json.loads(json.dumps(history.snapshot())))
    assert again.days == history.days
    assert again.today_so_far() == history.today_so_far()
    empty = SkyHistory()
    empty.restore(json.loads(json.dumps(SkyHistory().snapshot())))
    assert not empty.has_today


def test_leads_are_classed_at_three_and_at_twelve_hours():
    assert [lead_class(q) for q in (0, 11, 12, 47, 48, 95)] == [0, 0, 1, 1, 2, 2]


def test_too_many_misses_below_draw_the_lower_half_out():
    keeper = SpreadKeeper()
    before = keeper.spread
    keeper.issue(100, [0.5] * 96, [0.9] * 96)
    for quarter in range(100, 196):
        keeper.observe(quarter, 0.3)
    after = keeper.spread
    assert all(a > b for a, b in zip(after.below, before.below, strict=True))
    assert all(a < b for a, b in zip(after.above, before.above, strict=True))


def test_one_miss_in_ten_moves_nothing():
    keeper = SpreadKeeper()
    before = keeper.spread.below[2]
    keeper.issue(0, [0.5] * 96, [0.9] * 96)
    for quarter in range(48, 88):
        keeper.observe(quarter, 0.3 if quarter % 10 == 0 else 0.7)
    assert keeper.spread.below[2] == pytest.approx(before, rel=1e-9)


def test_old_forecasts_are_forgotten_and_others_do_not_count():
    keeper = SpreadKeeper()
    for first in range(0, 500, 12):
        keeper.issue(first, [0.5] * 96, [0.9] * 96)
    before = keeper.snapshot()
    assert len(before["issues"]) <= 8
    keeper.observe(5000, 0.1)
    assert keeper.snapshot() == before
    again = SpreadKeeper()
    again.restore(json.loads(json.dumps(before)))
    assert again.snapshot() == before
    assert AS_IS.below == (1.0, 1.0, 1.0)


def test_days_without_readings_lend_no_course():
    # Laid up for a week: what was before still counts, the empty days do not.
    now = 1017 * QUARTERS_PER_DAY + 30
    past = past_of(autoregressive(0.95), days=10, until=now)
    members = clear_sky_index_members(past, memory_of(past), now, steps_from(now), {})
    assert past.end == now
    assert len(members) == 12
    assert past.knows_day_before(1010 * QUARTERS_PER_DAY)
    assert not past.knows_day_before(1016 * QUARTERS_PER_DAY)
    assert not past.knows_day_before(1000 * QUARTERS_PER_DAY)
