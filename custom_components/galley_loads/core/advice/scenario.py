"""The hours ahead as a family of possible courses of sun, demand and charge.

Each member takes its weather, its departures from the usual background and its meals and
hot water from one past day of the boat, so that what goes together stays together; the
doubt in the gauge and in the dish are dealt over the members evenly.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import lru_cache
from math import gcd
from statistics import NormalDist

from ..bank.bank_laws import accepts_charge
from ..outlook.habits import hour_of_week
from ..outlook.outlook_view import OutlookView
from ..sky.sky_ensemble import MEMBERS
from .grid import STEP_S, Grid
from .past_days import add_departures, add_usual_uses, lent_days, steady_charging_w


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

    def with_supply(self, supply_w: list[list[float]]) -> Scenario:
        """Return the same hours with another supply."""
        return replace(self, supply_w=supply_w)

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
    *,
    solar_w: list[list[float]] | None = None,
) -> Scenario:
    """Return the hours ahead.

    Args:
        view: what is known.
        at_s: the present, Unix time.
        steps: quarter hours to look ahead.
        left_out: labels of usual meals that will not take place within a day.
        cooking_now: label of the meal in progress.
        solar_w: the sun of these steps by future, where it is at hand already.
    """
    grid = Grid(at_s, steps)
    if solar_w is None:
        solar_w = sun_ahead(view, grid)
    members = len(solar_w)
    background_w = _background(view, grid)
    demand_w = [list(background_w) for _ in range(members)]
    supply_w = solar_w
    days = lent_days(view, at_s)
    if days:
        add_departures(view, grid, demand_w, days)
        add_usual_uses(view, grid, demand_w, days, left_out, cooking_now)
        supply_w = _supply(solar_w, steady_charging_w(view, grid, days))
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
    while gcd(count, stride) != 1:
        stride += 1
    return tuple(
        normal.inv_cdf(((i * stride + stride // 2) % count + 0.5) / count)
        for i in range(count)
    )


def sun_ahead(view: OutlookView, grid: Grid) -> list[list[float]]:
    """Return the sun of the steps ahead by future, W at the array."""
    if not view.has_sun:
        return [[0.0] * grid.steps] * MEMBERS
    steps = view.sky.steps_ahead(grid.at_s, grid.steps)
    return [
        [k * step.clear_w for k, step in zip(member, steps, strict=True)]
        for member in view.sky.clear_sky_index_ahead(grid.at_s, steps)
    ]


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


def _supply(
    solar_w: list[list[float]], steady_w: list[float] | None
) -> list[list[float]]:
    if steady_w is None:
        return solar_w
    return [[s + e for s, e in zip(row, steady_w, strict=True)] for row in solar_w]
