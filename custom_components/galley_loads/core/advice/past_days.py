"""What past days lend to the days ahead: departures, meals, hot water, steady charging."""

from collections.abc import Collection, Sequence
from math import ceil
from typing import Final

from ..outlook.demand_history import HOUR_S
from ..outlook.habits import boat_time, done_today, hour_of_week, shifted_s
from ..outlook.outlook_view import OutlookView
from ..sky.quantiles import quantile
from ..sky.sky_ensemble import MEMBERS
from .grid import STEP_S, Grid, spread_over_steps

_DAY_S: Final = 86_400.0
_OLDEST_DAYS: Final = 60
_LEAST_FILED_HOURS: Final = 12
_LEAST_CHARGING_DAYS: Final = 3


def lent_days(view: OutlookView, at_s: float) -> tuple[int, ...]:
    """Return how many days back the days lie that can lend, the newest first.

    A day ends at the present's time of day and must have been seen for half of its hours;
    so days on which nothing was measured are passed over, as a boat that was laid up has.
    """
    present = int(at_s // HOUR_S)
    found: list[int] = []
    for lag in range(1, _OLDEST_DAYS + 1):
        first = present - 24 * lag
        filed = sum(hour in view.past_hours for hour in range(first, first + 24))
        if filed >= _LEAST_FILED_HOURS:
            found.append(lag)
            if len(found) == MEMBERS:
                break
    return tuple(found)


def _hours(grid: Grid) -> list[int]:
    """Return the hour since 1970 that the middle of each step lies in."""
    return [int((grid.time_s(i) + STEP_S / 2) // HOUR_S) for i in range(grid.steps)]


def add_departures(
    view: OutlookView, grid: Grid, demand_w: Sequence[list[float]], days: Sequence[int]
) -> None:
    """Let each member depart from the usual background as its past day did."""
    zone = view.boat.time_zone
    departure: dict[int, float] = {}
    hours = _hours(grid)
    present = int(grid.at_s // HOUR_S)
    for member, row in enumerate(demand_w):
        lag_h = 24 * days[member % len(days)]
        for i, hour in enumerate(hours):
            past = hour - lag_h
            if past >= present:
                past -= 24
            gap = departure.get(past)
            if gap is None:
                filed = view.past_hours.get(past)
                gap = 0.0
                if filed is not None:
                    usual_w = view.background_w[hour_of_week(past * HOUR_S, zone)]
                    gap = filed.background_w - usual_w
                departure[past] = gap
            row[i] = max(row[i] + gap, 0.0)


def add_usual_uses(
    view: OutlookView,
    grid: Grid,
    demand_w: Sequence[list[float]],
    days: Sequence[int],
    left_out: Collection[str],
    cooking_now: str | None,
) -> None:
    """Give each member the meals and the hot water of its past day, by the boat's clock."""
    zone, at_s = view.boat.time_zone, grid.at_s
    done = set(done_today(view.uses, zone, at_s))
    if cooking_now is not None:
        done.add(cooking_now)
    today = boat_time(at_s, zone).date()
    end_s = grid.time_s(grid.steps)
    rows: dict[int, list[list[float]]] = {}
    for member, row in enumerate(demand_w):
        rows.setdefault(days[member % len(days)], []).append(row)
    for use in reversed(view.uses):
        lag = max(ceil((at_s - use.start_s) / _DAY_S), 1)
        lands_s = shifted_s(use.start_s, lag, zone)
        if lands_s < at_s:
            lag, lands_s = lag + 1, shifted_s(use.start_s, lag + 1, zone)
        if lag > days[-1] + 1:
            break
        if lag not in rows:
            continue
        length_s = max(use.end_s - use.start_s, 60.0)
        power_w = view.conversion.dish_dc_w(use.energy_wh * HOUR_S / length_s)
        again_s = shifted_s(use.start_s, lag + 1, zone)
        skip_first = use.label in left_out or (
            use.label in done and boat_time(lands_s, zone).date() == today
        )
        for begin_s, skip in ((lands_s, skip_first), (again_s, False)):
            if skip or begin_s >= end_s:
                continue
            for i, share in spread_over_steps(grid, begin_s, length_s):
                for row in rows[lag]:
                    row[i] += power_w * share


def steady_charging_w(
    view: OutlookView, grid: Grid, days: Sequence[int]
) -> list[float] | None:
    """Return other charging that can be counted on: shore, wind, a daily hour of motoring.

    What came at an hour on three of four recent days counts; an engine that was started
    because the bank was low does not, or the answer would rest on the trouble it is to
    avoid. None where there is nothing.
    """
    if len(days) < _LEAST_CHARGING_DAYS:
        return None
    if not view.boat.sensors.other_charging_power:
        return None
    steady: dict[int, float] = {}
    present = int(grid.at_s // HOUR_S)
    hours = _hours(grid)
    for hour in set(hours):
        # The newest hour of that time of day that is over; older ones by whole days.
        past = hour - 24 * ceil((hour - present + 1) / 24)
        filed = [view.past_hours.get(past - 24 * (day - days[0])) for day in days]
        came = sorted(one.other_w for one in filed if one is not None)
        steady[hour] = quantile(came, 0.25) if came else 0.0
    return [steady[hour] for hour in hours] if any(steady.values()) else None
