"""How the sky may turn out: a family of possible skies, each a past day led on from now.

Every recent day lends its own course of clear-sky index, so that the family has the boat's own
weather: clear spells, broken clouds, whole grey days. Each course is shifted by how the
present differs from that day at the same hour, and the shift fades the way the past says
that clear-sky index is forgotten (a regression on the boat's own history, with common sense
where the history is short). With a forecast of the owner's the family is drawn around the
forecast instead, by how past days turned out against theirs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, sqrt
from statistics import median
from typing import Final

from .like_days import dealt, likeness
from .sky_history import QUARTERS_PER_DAY, ClearSkyIndex
from .sky_spread import AS_IS, Spread, lead_class
from .sum_spread import SumSpread, span_steps, weighted_mean

MEMBERS: Final = 28
"""Possible futures. Four weeks: the weather of the season, every weekday four times."""

_PRIOR_SKIES: Final = (
    0.15,
    0.3,
    0.45,
    0.6,
    0.7,
    0.8,
    0.88,
    0.93,
    0.97,
    1.0,
    1.02,
    1.04,
)
"""Skies for a boat without history: some of everything (no source)."""

_LEAST_PAST_DAYS: Final = 12
_HOUR_ANCHOR_QUARTERS: Final = 5
_ASIDE_QUARTERS: Final = (-6, -3, 0, 3, 6)
"""A past day lends its course as it was and by an hour or so earlier and later."""

_HOUR_ANCHOR_AGE: Final = 10
_DAY_ANCHOR_QUARTERS: Final = 24
_LAG_HOURS: Final = 14
_PRIOR_PAIRS: Final = 60.0
_PRIOR_DAY_PAIRS: Final = 10.0
_PRIOR_DAY_MEMORY: Final = (0.35, 0.2)
_FORECAST_SKILL: Final = 0.7
_BROKEN_UNREST: Final = 0.35
_LOWEST: Final = 0.02
_CLEAR: Final = 1.02
_HIGHEST: Final = 1.3


@dataclass(frozen=True, slots=True)
class Memory:
    """How much of a departure is left: after so many hours, and after one and two nights.

    Regression slopes of later on earlier clear-sky index, from the boat's own history.
    """

    by_hour: tuple[float, ...]
    by_night: tuple[float, float]


def _prior_hour_memory(lag_hours: float) -> float:
    return 0.3 + 0.55 * exp(-lag_hours / 4.0)


PRIOR_MEMORY: Final = Memory(
    tuple(_prior_hour_memory(lag) for lag in range(_LAG_HOURS)), _PRIOR_DAY_MEMORY
)


def memory_of(past: ClearSkyIndex) -> Memory:
    """Return how this boat's weather remembers itself; common sense where little is known."""
    hours: list[float | None] = []
    days: list[float | None] = []
    for start in range(0, len(past.seen), QUARTERS_PER_DAY):
        day = [k for k in past.seen[start : start + QUARTERS_PER_DAY] if k is not None]
        days.append(sum(day) / len(day) if len(day) >= 8 else None)
    for start in range(0, len(past.seen) - 3, 4):
        hour = [k for k in past.seen[start : start + 4] if k is not None]
        hours.append(sum(hour) / len(hour) if len(hour) >= 3 else None)
    later = [
        _slope(hours, lag, _prior_hour_memory(lag), _PRIOR_PAIRS)
        for lag in range(1, _LAG_HOURS)
    ]
    # The next quarter hour is not the hour's mean: carried on from the lags that are seen.
    by_hour = [min(2.0 * later[0] - later[1], 1.0), *later]
    nights = [
        _slope(days, lag, _PRIOR_DAY_MEMORY[lag - 1], _PRIOR_DAY_PAIRS)
        for lag in (1, 2)
    ]
    return Memory(tuple(by_hour), (nights[0], nights[1]))


def _slope(
    values: Sequence[float | None], lag: int, prior: float, prior_pairs: float
) -> float:
    """Return the regression slope of values on those `lag` earlier, drawn to a prior."""
    pairs = [
        (before, after)
        for before, after in zip(values, values[lag:], strict=False)
        if before is not None and after is not None
    ]
    if len(pairs) < 3:
        return prior
    mean_x = sum(x for x, _ in pairs) / len(pairs)
    mean_y = sum(y for _, y in pairs) / len(pairs)
    s_xx = sum((x - mean_x) ** 2 for x, _ in pairs)
    s_xy = sum((x - mean_x) * (y - mean_y) for x, y in pairs)
    spread = max(s_xx / len(pairs), 1e-4)
    slope = (s_xy + prior * prior_pairs * spread) / (s_xx + prior_pairs * spread)
    return min(max(slope, 0.0), 1.0)


@dataclass(frozen=True, slots=True)
class SkyStep:
    """One quarter hour ahead: its number, clear-sky power, and whether a night lies before.

    `clear_w` is what the array gives there under a clear sky; `nights` counts the nights
    between now and then.
    """

    quarter: int
    clear_w: float
    nights: int


def _mean_at(
    values: Sequence[float | None], first: int, quarters: Sequence[int]
) -> float | None:
    found = [
        value
        for quarter in quarters
        if 0 <= quarter - first < len(values)
        and (value := values[quarter - first]) is not None
    ]
    return sum(found) / len(found) if found else None


def clear_sky_index_members(
    past: ClearSkyIndex,
    memory: Memory,
    now_quarter: int,
    steps: Sequence[SkyStep],
    forecast_w: Mapping[int, float],
    spread: Spread = AS_IS,
) -> list[list[float]]:
    """Return possible futures: per member the clear-sky index at each step.

    Args:
        past: clear-sky index that ends at `now_quarter` (the first quarter hour not over).
        memory: how the boat's weather remembers itself.
        now_quarter: number of the quarter hour in progress.
        steps: the quarter hours ahead.
        forecast_w: the owner's forecast, W by quarter hour, where there is one.
        spread: factors on the members' distance from their middle, learnt.
    """
    known = [
        now_quarter - back
        for back in range(1, QUARTERS_PER_DAY + 1)
        if 0 <= now_quarter - back - past.first < len(past.seen)
        and past.seen[now_quarter - back - past.first] is not None
    ]
    hour_at = [q for q in known if q >= now_quarter - _HOUR_ANCHOR_AGE]
    hour_at = hour_at[:_HOUR_ANCHOR_QUARTERS] if len(hour_at) > 1 else []
    day_at = known[:_DAY_ANCHOR_QUARTERS]
    around = _mean(past.filled) if past.known_days else 0.7

    courses: list[_Course] = []
    asides = (0,) if forecast_w else _ASIDE_QUARTERS
    back = 0
    while back < MEMBERS and now_quarter - back * QUARTERS_PER_DAY > past.first:
        if past.knows_day_before(now_quarter - back * QUARTERS_PER_DAY):
            shift = (back + 1) * QUARTERS_PER_DAY
            courses.extend(
                _PastCourse(past, shift + aside, now_quarter, around)
                for aside in asides
            )
        back += 1
    days = len(courses) // len(asides)
    missing = _LEAST_PAST_DAYS - days
    if missing > 0:
        stride = len(_PRIOR_SKIES) / missing
        courses.extend(
            _LevelCourse(_PRIOR_SKIES[int((i + 0.5) * stride)], around)
            for i in range(missing)
        )
    count = min(days + max(missing, 0), MEMBERS)
    if len(courses) > count:
        weights = [
            likeness(_gap(c, past, day_at, False), _gap(c, past, hour_at, False))
            for c in courses
        ]
        courses = [courses[place] for place in dealt(weights, count)]
    members = [
        _lead_on(course, memory, now_quarter, hour_at, day_at, past, steps, forecast_w)
        for course in courses
    ]
    if spread is not AS_IS:
        members = _spread_out(members, steps, now_quarter, spread)
        members = _sums_spread_out(members, steps, spread.sums)
    return [[min(max(k, _LOWEST), _HIGHEST) for k in member] for member in members]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


class _PastCourse:
    """The course of clear-sky index of a past day."""

    def __init__(
        self, past: ClearSkyIndex, shift: int, now_quarter: int, around: float
    ) -> None:
        self._past = past
        self._shift = shift
        self._now = now_quarter
        self._around = around

    def clear_sky_index(self, quarter: int) -> float:
        place = quarter - self._shift
        while place >= self._now:
            place -= QUARTERS_PER_DAY
        return self._past.filled[place - self._past.first]

    def surprise(self, quarter: int) -> float:
        """How it turned out against its own forecast, or against the usual."""
        place = quarter - self._shift
        while place >= self._now:
            place -= QUARTERS_PER_DAY
        index = place - self._past.first
        told = self._past.forecast[index]
        if told is not None:
            return self._past.filled[index] - told
        return _FORECAST_SKILL * (self._past.filled[index] - self._around)

    def led_on(self, course: float, kept: float, gap: float) -> float:
        """Shift a value by what is kept of the present's gap: the rest is its own story."""
        return course + kept * gap

    def mean(self, quarters: Sequence[int], surprises: bool) -> float:
        of = self.surprise if surprises else self.clear_sky_index
        found = [
            of(quarter)
            for quarter in quarters
            if quarter - self._shift >= self._past.first
        ]
        return _mean(found) if found else (0.0 if surprises else self._around)


class _LevelCourse:
    """A sky that stays as it is, broken where it is neither clear nor grey.

    For boats without a past. The gaps between its clouds fall where a fixed scrambling of
    the quarter hour's number puts them, so that the same question has the same answer.
    """

    def __init__(self, level: float, around: float) -> None:
        self._level = level
        self._around = around
        self._unrest = _BROKEN_UNREST * max(4.0 * level * (1.0 - level), 0.0)
        self._salt = int(level * 1000)

    def clear_sky_index(self, quarter: int) -> float:
        scrambled = ((quarter + self._salt) * 2_654_435_761) % 2**32 / 2**31 - 1.0
        return self._level + self._unrest * scrambled

    def surprise(self, quarter: int) -> float:
        return _FORECAST_SKILL * (self.clear_sky_index(quarter) - self._around)

    def led_on(self, course: float, kept: float, gap: float) -> float:
        """Lead a value on: a level says nothing of change, so it is dealt as a departure.

        What is kept of the present leaves room for departures of the share
        sqrt(1 - kept^2), as for any process that forgets at that pace.
        """
        middle = self._around
        present = course + gap
        departure = sqrt(max(1.0 - kept * kept, 0.0)) * (course - middle)
        return middle + kept * (present - middle) + departure

    def mean(self, quarters: Sequence[int], surprises: bool) -> float:
        of = self.surprise if surprises else self.clear_sky_index
        return _mean([of(quarter) for quarter in quarters])


type _Course = _PastCourse | _LevelCourse


def _lead_on(
    course: _Course,
    memory: Memory,
    now_quarter: int,
    hour_at: Sequence[int],
    day_at: Sequence[int],
    past: ClearSkyIndex,
    steps: Sequence[SkyStep],
    forecast_w: Mapping[int, float],
) -> list[float]:
    """Return one member's clear-sky index at each step."""
    hour_gap = _gap(course, past, hour_at, False)
    day_gap = _gap(course, past, day_at, False)
    told_hour_gap = _gap(course, past, hour_at, True) if forecast_w else None
    out: list[float] = []
    for step in steps:
        if step.clear_w <= 0.0:
            out.append(0.0)
            continue
        same_day = step.nights == 0 and hour_gap is not None
        if same_day:
            lag = (step.quarter - now_quarter) / 4.0 + 0.5
            kept = _at_lag(memory.by_hour, lag)
        else:
            kept = memory.by_night[0 if step.nights <= 1 else 1]
        told_w = forecast_w.get(step.quarter)
        if told_w is None:
            gap = hour_gap if same_day else day_gap
            value = course.clear_sky_index(step.quarter)
            out.append(value if gap is None else course.led_on(value, kept, gap))
            continue
        told = min(told_w / step.clear_w, _HIGHEST)
        gap = told_hour_gap if same_day else None
        out.append(told + course.surprise(step.quarter) + kept * (gap or 0.0))
    return out


def _gap(
    course: _Course, past: ClearSkyIndex, quarters: Sequence[int], surprises: bool
) -> float | None:
    """Return how the present differs from the course at the same hours."""
    if not quarters:
        return None
    present = _mean_at(past.seen, past.first, quarters)
    if present is None:
        return None
    if surprises:
        told = _mean_at(past.forecast, past.first, quarters)
        if told is None:
            return None
        present -= told
    return present - course.mean(quarters, surprises)


def _at_lag(by_hour: Sequence[float], lag: float) -> float:
    low = min(int(lag), len(by_hour) - 1)
    high = min(low + 1, len(by_hour) - 1)
    return by_hour[low] + (by_hour[high] - by_hour[low]) * (lag - low)


def _spread_out(
    members: list[list[float]],
    steps: Sequence[SkyStep],
    now_quarter: int,
    spread: Spread,
) -> list[list[float]]:
    """Draw members away from (or to) their middle, below and above apart."""
    columns: list[list[float]] = []
    for step, column in zip(steps, zip(*members, strict=True), strict=True):
        which = lead_class(step.quarter - now_quarter)
        below, above = spread.below[which], spread.above[which]
        middle = median(column)
        columns.append(
            [middle + (below if k < middle else above) * (k - middle) for k in column]
        )
    return [list(row) for row in zip(*columns, strict=True)]


def _sums_spread_out(
    members: list[list[float]], steps: Sequence[SkyStep], spread: SumSpread
) -> list[list[float]]:
    """Draw the members' days away from (or to) the middle day, each day as a whole.

    A day that is to give less is dimmed throughout; one that is to give more is cleared
    up, so that none gets brighter than a clear sky.
    """
    rows = [list(member) for member in members]
    weights = [step.clear_w for step in steps]
    for span, places in enumerate(span_steps([s.nights for s in steps], weights)):
        if not places:
            continue
        means = [weighted_mean(row, weights, places) for row in rows]
        middle = median(means)
        for row, mean in zip(rows, means, strict=True):
            factor = spread.below[span] if mean < middle else spread.above[span]
            more = (factor - 1.0) * (mean - middle)
            if more <= 0.0:
                dimmed = max(1.0 + more / max(mean, _LOWEST), 0.1)
                for i in places:
                    row[i] *= dimmed
            elif mean < _CLEAR:
                cleared = min(more / (_CLEAR - mean), 1.0)
                for i in places:
                    row[i] += cleared * max(_CLEAR - row[i], 0.0)
    return rows
