"""The hours ahead as a family of possible courses of sun, demand and charge.

Each member takes its weather, its departures from the usual background and its meals and
hot water from one past day of the boat, so that what goes together stays together; the
doubt in the gauge and in the dish are dealt over the members evenly.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil
from statistics import NormalDist
from typing import Final

from ..bank import accepts_charge
from ..habits import boat_time, done_today, hour_of_week, shifted_s
from ..outlook_view import OutlookView
from ..quantiles import quantile
from ..quarters import QUARTER_S
from ..sky_outlook import MEMBERS

STEP_S: Final = QUARTER_S
STEP_H: Final = STEP_S / 3600.0
STEPS_PER_DAY: Final = 96
_DAY_S: Final = 86_400.0
_LEAST_BACKGROUND_W: Final = 0.0
_LEAST_CHARGING_DAYS: Final = 3


@dataclass(frozen=True, slots=True)
class Grid:
    """Quarter-hour steps from `at_s` on; step i lasts from `time_s(i)` to `time_s(i + 1)`."""

    at_s: float
    steps: int

    def time_s(self, index: int) -> float:
        """Return the start of a step."""
        return self.at_s + index * STEP_S

    def index(self, at_s: float) -> int:
        """Return the first step that starts at or after a moment."""
        return max(ceil((at_s - self.at_s) / STEP_S - 1e-6), 0)


@dataclass(frozen=True, slots=True)
class Scenario:
    """Possible courses: lists by member, then by step, W at the bank's side.

    `supply_w` is sun and other charging together, `solar_w` the sun alone, `demand_w`
    everything but the dish. `soc` is each member's charge now in percent, `dish_factor`
    what it multiplies an expected dish energy's spread by.
    """

    grid: Grid
    solar_w: list[list[float]]
    supply_w: list[list[float]]
    demand_w: list[list[float]]
    soc: list[float]
    dish_factor: list[float]
    background_w: list[float]
    takes_charge: bool

    @property
    def members(self) -> int:
        """How many courses there are."""
        return len(self.demand_w)

    def with_demand(self, demand_w: list[list[float]]) -> Scenario:
        """Return the same hours with another demand."""
        return replace(self, demand_w=demand_w)

    def thinned(self, members: int) -> Scenario:
        """Return the hours with about so many members, dealt evenly from all."""
        every = slice(None, None, max(round(self.members / members), 1))
        return replace(
            self,
            solar_w=self.solar_w[every],
            supply_w=self.supply_w[every],
            demand_w=self.demand_w[every],
            soc=self.soc[every],
            dish_factor=self.dish_factor[every],
        )


def build_scenario(
    view: OutlookView,
    at_s: float,
    steps: int,
    left_out: Collection[str] = (),
    cooking_now: str | None = None,
) -> Scenario:
    """Return the hours ahead.

    Args:
        view: what is known.
        at_s: the present, Unix time.
        steps: quarter hours to look ahead.
        left_out: labels of usual meals that will not take place within a day.
        cooking_now: label of the meal in progress.
    """
    grid = Grid(at_s, steps)
    solar_w = _solar(view, grid)
    members = len(solar_w)
    background_w = _background(view, grid)
    demand_w = _demand(view, grid, members, background_w, left_out, cooking_now)
    supply_w = _supply(view, grid, solar_w)
    soc = view.charge.soc or 0.0
    return Scenario(
        grid,
        solar_w,
        supply_w,
        demand_w,
        [
            min(max(soc + view.charge.doubt * z, 0.0), 100.0)
            for z in even_deviations(members, 5)
        ],
        list(even_deviations(members, 11)),
        background_w,
        accepts_charge(view.boat.bank, view.bank_temperature_c),
    )


@lru_cache(maxsize=64)
def even_deviations(count: int, stride: int) -> tuple[float, ...]:
    """Return `count` evenly dealt standard normal values, mixed by a stride.

    Every member gets one of the quantiles (i + 1/2) / count; the order follows a walk of
    `stride` so that values dealt for different purposes do not go together.
    """
    normal = NormalDist()
    while _common_divisor(count, stride) != 1:
        stride += 1
    return tuple(
        normal.inv_cdf(((i * stride + stride // 2) % count + 0.5) / count)
        for i in range(count)
    )


def _common_divisor(a: int, b: int) -> int:
    while b:
        a, b = b, a % b
    return a


def _solar(view: OutlookView, grid: Grid) -> list[list[float]]:
    if not view.has_sun:
        return [[0.0] * grid.steps] * MEMBERS
    steps = view.steps_ahead(grid.at_s, grid.steps)
    return [
        [k * step.clear_w for k, step in zip(member, steps, strict=True)]
        for member in view.clearness_ahead(grid.at_s, steps)
    ]


def _known_days(view: OutlookView, at_s: float) -> int:
    """Return how many whole past days can lend a member its meals and background."""
    if view.first_s is None:
        return 0
    return min(int((at_s - view.first_s) / _DAY_S), MEMBERS)


def _background(view: OutlookView, grid: Grid) -> list[float]:
    zone = view.boat.time_zone
    by_hour: dict[int, float] = {}
    out: list[float] = []
    for i in range(grid.steps):
        middle_s = grid.time_s(i) + STEP_S / 2
        hour = int(middle_s // 3600)
        if hour not in by_hour:
            by_hour[hour] = view.background_w[hour_of_week(middle_s, zone)]
        out.append(by_hour[hour])
    return out


def _demand(
    view: OutlookView,
    grid: Grid,
    members: int,
    background_w: list[float],
    left_out: Collection[str],
    cooking_now: str | None,
) -> list[list[float]]:
    days = _known_days(view, grid.at_s)
    demand_w = [list(background_w) for _ in range(members)]
    if days == 0:
        return demand_w
    _add_departures(view, grid, demand_w, days)
    _add_usual_uses(view, grid, demand_w, days, left_out, cooking_now)
    return demand_w


def _add_departures(
    view: OutlookView, grid: Grid, demand_w: list[list[float]], days: int
) -> None:
    """Let each member depart from the usual background as its past day did."""
    zone = view.boat.time_zone
    departure: dict[int, float] = {}
    hours = [int((grid.time_s(i) + STEP_S / 2) // 3600) for i in range(grid.steps)]
    present = int(grid.at_s // 3600)
    for member, row in enumerate(demand_w):
        lag_h = 24 * (member % days + 1)
        for i, hour in enumerate(hours):
            past = hour - lag_h
            if past >= present:
                past -= 24
            gap = departure.get(past)
            if gap is None:
                filed = view.past_hours.get(past)
                gap = 0.0
                if filed is not None:
                    usual_w = view.background_w[hour_of_week(past * 3600.0, zone)]
                    gap = filed.background_w - usual_w
                departure[past] = gap
            row[i] = max(row[i] + gap, _LEAST_BACKGROUND_W)


def _add_usual_uses(
    view: OutlookView,
    grid: Grid,
    demand_w: list[list[float]],
    days: int,
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
    for use in reversed(view.uses):
        lag = max(ceil((at_s - use.start_s) / _DAY_S), 1)
        lands_s = shifted_s(use.start_s, lag, zone)
        if lands_s < at_s:
            lag, lands_s = lag + 1, shifted_s(use.start_s, lag + 1, zone)
        if lag > days:
            if lag > days + 1:
                break
            continue
        length_s = max(use.end_s - use.start_s, 60.0)
        power_w = view.conversion.dish_dc_w(use.energy_wh * 3600.0 / length_s)
        again_s = shifted_s(use.start_s, lag + 1, zone)
        skip_first = use.label in left_out or (
            use.label in done and boat_time(lands_s, zone).date() == today
        )
        for begin_s, skip in ((lands_s, skip_first), (again_s, False)):
            if skip or begin_s >= end_s:
                continue
            parts = spread_over_steps(grid, begin_s, length_s)
            for member in range(lag - 1, len(demand_w), days):
                row = demand_w[member]
                for i, share in parts:
                    row[i] += power_w * share


def spread_over_steps(
    grid: Grid, begin_s: float, length_s: float
) -> list[tuple[int, float]]:
    """Return the steps that a span touches, each with the share of the step it fills."""
    place = (begin_s - grid.at_s) / STEP_S
    last = place + length_s / STEP_S
    parts: list[tuple[int, float]] = []
    i = max(int(place), 0)
    while i < last and i < grid.steps:
        share = min(last, i + 1) - max(place, i)
        if share > 0.0:
            parts.append((i, share))
        i += 1
    return parts


def _supply(
    view: OutlookView, grid: Grid, solar_w: list[list[float]]
) -> list[list[float]]:
    """Add other charging that can be counted on: shore, wind, the daily hour of motoring.

    What came at an hour on three of four recent days counts; an engine that was started
    because the bank was low does not, or the answer would rest on the trouble it is to
    avoid.
    """
    days = _known_days(view, grid.at_s)
    if days < _LEAST_CHARGING_DAYS or not view.boat.sensors.other_charging_power:
        return solar_w
    steady: dict[int, float] = {}
    present = int(grid.at_s // 3600)
    extra_w: list[float] = []
    for i in range(grid.steps):
        hour = int((grid.time_s(i) + STEP_S / 2) // 3600)
        if hour not in steady:
            past = hour - 24 * ceil((hour - present + 1) / 24)
            filed = [view.past_hours.get(past - 24 * day) for day in range(days)]
            came = sorted(one.other_w for one in filed if one is not None)
            steady[hour] = quantile(came, 0.25) if came else 0.0
        extra_w.append(steady[hour])
    if not any(extra_w):
        return solar_w
    return [[s + e for s, e in zip(row, extra_w, strict=True)] for row in solar_w]
