"""What other people's solar forecasts say, and for when."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.sky.forecast_reading import (
    ForecastSpan,
    added,
    period_of_span,
    periods_of_hours,
    span_of_name,
)
from custom_components.galley_loads.core.sky.solar_forecast import ForecastPeriod

AZORES = ZoneInfo("Atlantic/Azores")


@pytest.mark.parametrize(
    ("name", "span"),
    [
        ("energy_production_today", ForecastSpan.TODAY),
        ("sensor.energy_production_today_remaining", ForecastSpan.REMAINING),
        ("Estimated energy production - tomorrow", ForecastSpan.TOMORROW),
        ("sensor.yield_day_after_tomorrow", ForecastSpan.DAY_AFTER),
        ("sensor.energy_production_d2", ForecastSpan.DAY_AFTER),
        ("energy_next_hour", None),
        ("power_highest_peak_time_today", None),
        ("power_production_now", None),
        ("sensor.energy_production_d3", None),
        ("sensor.outlook", None),
    ],
)
def test_the_name_of_a_sensor_tells_its_span(
    name: str, span: ForecastSpan | None
) -> None:
    assert span_of_name(name) is span


def unix(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def test_today_is_the_boats_day() -> None:
    # Half past eleven at night in the Azores in summer is half past eleven UTC.
    at_s = unix("2026-07-01T23:30")
    today = period_of_span(ForecastSpan.TODAY, 3000.0, at_s, AZORES)
    assert (today.start_s, today.end_s) == (
        unix("2026-07-01T00:00"),
        unix("2026-07-02T00:00"),
    )
    rest = period_of_span(ForecastSpan.REMAINING, 10.0, at_s, AZORES)
    assert (rest.start_s, rest.end_s) == (at_s, today.end_s)
    later = period_of_span(ForecastSpan.DAY_AFTER, 10.0, at_s, AZORES)
    assert later.start_s == unix("2026-07-03T00:00")


def test_the_day_on_which_the_clock_changes_is_shorter() -> None:
    at_s = unix("2026-03-28T12:00")
    tomorrow = period_of_span(ForecastSpan.TOMORROW, 3000.0, at_s, AZORES)
    assert tomorrow.end_s - tomorrow.start_s == 23 * 3600


def test_a_period_lasts_to_the_next_at_most_an_hour() -> None:
    periods = periods_of_hours({0.0: 5.0, 1800.0: 6.0, 7200.0: 7.0})
    assert periods == [
        ForecastPeriod(0.0, 1800.0, 5.0),
        ForecastPeriod(1800.0, 5400.0, 6.0),
        ForecastPeriod(7200.0, 10800.0, 7.0),
    ]
    assert periods_of_hours({}) == []


def test_two_roofs_are_added_hour_by_hour() -> None:
    hours = [ForecastPeriod(h * 3600.0, (h + 1) * 3600.0, 100.0) for h in range(2)]
    day = [ForecastPeriod(0.0, 7200.0, 60.0)]
    assert added([hours, day]) == [
        ForecastPeriod(0.0, 3600.0, 130.0),
        ForecastPeriod(3600.0, 7200.0, 130.0),
    ]
    assert added([hours]) == hours
    assert added([[], []]) == []


def test_a_dark_hour_is_told_too() -> None:
    dark = [ForecastPeriod(0.0, 3600.0, 0.0)]
    late = [ForecastPeriod(7200.0, 10800.0, 50.0)]
    # Between them nobody says anything.
    assert added([dark, late]) == [*dark, *late]


PERIODS = st.lists(
    st.tuples(st.integers(0, 40), st.floats(0, 500)), min_size=1, max_size=8
).map(lambda rows: periods_of_hours({900.0 * start: energy for start, energy in rows}))


@given(st.lists(PERIODS, min_size=1, max_size=3))
def test_no_energy_is_lost_in_adding(forecasts: list[list[ForecastPeriod]]) -> None:
    told_wh = sum(period.energy_wh for one in forecasts for period in one)
    total = added(forecasts)
    assert sum(period.energy_wh for period in total) == pytest.approx(told_wh)
    assert all(a.end_s <= b.start_s for a, b in pairwise(total))
