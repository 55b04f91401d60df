"""Other people's solar forecasts become periods of energy.

A forecast service tells energies by the time at which each period starts. A forecast
sensor tells one number; what it is about is in its name: today, what remains of today,
tomorrow, or the day after.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from enum import StrEnum
import re
from typing import Final
from zoneinfo import ZoneInfo

from .solar_forecast import ForecastPeriod

HOUR_S: Final = 3600.0
_DAYS: Final = re.compile(
    r"(?:^|[^a-z0-9])(?:d2|day[ _]?after[ _]?tomorrow)(?:$|[^a-z0-9])"
)
_OTHER_SPANS: Final = re.compile(r"hour|now|peak|week|d[3-9]")


class ForecastSpan(StrEnum):
    """What a sensor's number covers."""

    TODAY = "today"
    REMAINING = "remaining"
    TOMORROW = "tomorrow"
    DAY_AFTER = "day_after"


def span_of_name(name: str) -> ForecastSpan | None:
    """Return what a sensor of this name covers, None where the name does not tell."""
    text = name.casefold()
    if _DAYS.search(text):
        return ForecastSpan.DAY_AFTER
    if _OTHER_SPANS.search(text):
        return None
    if "tomorrow" in text:
        return ForecastSpan.TOMORROW
    if "remaining" in text:
        return ForecastSpan.REMAINING
    return ForecastSpan.TODAY if "today" in text else None


def period_of_span(
    span: ForecastSpan, energy_wh: float, at_s: float, zone: ZoneInfo
) -> ForecastPeriod:
    """Return the period that a number told at a time is about, by the boat's days."""
    now = datetime.fromtimestamp(at_s, zone)
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    days = {ForecastSpan.TOMORROW: 1, ForecastSpan.DAY_AFTER: 2}.get(span, 0)
    # A day on which the clock changes has 23 or 25 hours: reckoned on the calendar.
    start_s = (midnight + timedelta(days=days)).timestamp()
    end_s = (midnight + timedelta(days=days + 1)).timestamp()
    if span is ForecastSpan.REMAINING:
        start_s = at_s
    return ForecastPeriod(start_s, end_s, energy_wh)


def periods_of_hours(wh_by_start: Mapping[float, float]) -> list[ForecastPeriod]:
    """Return periods of energies by the Unix time at which each starts.

    A period lasts until the next one starts, at most an hour.
    """
    starts = sorted(wh_by_start)
    ends = [*starts[1:], starts[-1] + HOUR_S] if starts else []
    return [
        ForecastPeriod(start_s, min(end_s, start_s + HOUR_S), wh_by_start[start_s])
        for start_s, end_s in zip(starts, ends, strict=True)
    ]


def added(forecasts: Iterable[Iterable[ForecastPeriod]]) -> list[ForecastPeriod]:
    """Return the sum of several forecasts, one for each part of the array.

    Periods are cut wherever one of the forecasts begins or ends one, and their energy is
    shared out evenly over the pieces.
    """
    listed = [list(one) for one in forecasts]
    listed = [one for one in listed if one]
    if len(listed) < 2:
        return listed[0] if listed else []
    edges = sorted({s for one in listed for p in one for s in (p.start_s, p.end_s)})
    total: dict[int, float] = {}
    place = {edge: i for i, edge in enumerate(edges)}
    for one in listed:
        for period in one:
            length_s = period.end_s - period.start_s
            for i in range(place[period.start_s], place[period.end_s]):
                share = (edges[i + 1] - edges[i]) / length_s
                total[i] = total.get(i, 0.0) + period.energy_wh * share
    return [
        ForecastPeriod(edges[i], edges[i + 1], energy_wh)
        for i, energy_wh in sorted(total.items())
    ]
