"""A day's plan: several dishes and hot water, each at its best hour.

The bank must keep its reserve, inverter, breakers and bank current are never exceeded,
and then the least comes out of the bank.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..meals.dish_cost import DishCost
from ..meals.meal_builder import HOT_DRINK
from ..outlook.habits import HOT_WATER
from ..outlook.outlook_view import OutlookView
from ..phrase import Phrase, phrase
from ..sky.quantiles import quantile
from .freshness import check_freshness
from .grid import STEP_S, STEPS_PER_DAY
from .limits import draw_of
from .placing import Placer, Task, Together
from .reasons import overload_reason
from .request import DishRequest, start_window
from .scenario import build_scenario
from .starts import bank_model, dish_power
from .verdict import LEAST_CHANCE

MEMBERS_PLANNED: Final = 14
"""Every second member of the family is enough to tell places apart."""


@dataclass(frozen=True, slots=True)
class PlannedDish:
    """One dish of the plan; times and amounts are None where no place carries it."""

    dish: str
    cost: DishCost
    start_s: float | None = None
    end_s: float | None = None
    drawn_ah: float | None = None
    from_sun_wh: float | None = None


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The plan: its dishes by time, and what the bank does with all of them.

    `drawn_ah` is what comes out of the bank for all dishes together; charges are percent.
    `missing` says which readings stop a plan; the rest is then empty.
    """

    at_s: float
    dishes: tuple[PlannedDish, ...] = ()
    drawn_ah: float = 0.0
    soc_lowest: float | None = None
    soc_lowest_p10: float | None = None
    chance_above_reserve: float = 0.0
    reasons: tuple[Phrase, ...] = ()
    missing: tuple[Phrase, ...] = ()

    @property
    def keeps_reserve(self) -> bool:
        """Whether the bank stays above its reserve with nine chances in ten."""
        return self.chance_above_reserve >= LEAST_CHANCE


def plan_day(
    view: OutlookView,
    requests: Sequence[DishRequest],
    at_s: float,
    *,
    newest_reading_s: float | None = None,
    said: Sequence[Phrase] = (),
) -> DayPlan:
    """Return when to cook each of several dishes. Pure, fit for another thread.

    The planned dishes stand for the day's usual meals; usual hot drinks, and usual hot
    water unless some is planned, are counted on top.

    Args:
        view: what is known.
        requests: the dishes with their windows; hot water is a request like any other.
        at_s: the present, Unix time.
        newest_reading_s: when a sensor last reported, None where that is not known.
        said: what is said already about silent sensors.
    """
    missing = check_freshness(view, at_s, said, newest_reading_s).missing
    if missing:
        return DayPlan(at_s, reasons=missing, missing=missing)
    tasks = [_task(view, request, at_s) for request in requests]
    steps = max((task.last + task.length for task in tasks), default=1)
    left_out = _stood_for(view, requests)
    scenario = build_scenario(view, at_s, max(steps, STEPS_PER_DAY) + 1, left_out)
    scenario = scenario.thinned(MEMBERS_PLANNED)
    model = bank_model(view, scenario.takes_charge)
    placer = Placer(view, model, scenario, tasks)
    placer.place_all()
    together = placer.together()
    reserve = view.boat.bank.reserve_soc
    lows = together.lows
    kept = sum(low >= reserve for low in lows) / len(lows)
    dishes = [_planned(task, at_s) for task in tasks]
    return DayPlan(
        at_s,
        tuple(sorted(dishes, key=lambda d: (d.start_s is None, d.start_s or 0.0))),
        together.drawn_ah,
        max(quantile(lows, 0.5), 0.0),
        max(quantile(lows, 0.1), 0.0),
        kept,
        tuple(_reasons(view, placer, tasks, together, kept, at_s)),
    )


def _task(view: OutlookView, request: DishRequest, at_s: float) -> Task:
    cost = view.cookbook.cost(view.boat, request.dish)
    window = start_window(request, view.boat, at_s, cost.minutes)
    first = max(int((window.first_s - at_s) / STEP_S + 0.999), 0)
    last = max(int((window.last_s - at_s) / STEP_S), first)
    power = dish_power(view, cost.energy_wh, cost.spread_wh, cost.minutes)
    return Task(request.dish.name, cost, draw_of(view, cost), power, first, last)


def _stood_for(view: OutlookView, requests: Sequence[DishRequest]) -> frozenset[str]:
    """Return the labels of the usual uses that the plan stands for."""
    labels = {use.label for use in view.uses} - {HOT_DRINK, HOT_WATER}
    heaters = {a.name for a in view.boat.appliances if a.kind.is_hot_water}
    if any(heaters & set(request.dish.minutes) for request in requests):
        labels.add(HOT_WATER)
    return frozenset(labels)


def _planned(task: Task, at_s: float) -> PlannedDish:
    if task.place is None or task.found is None:
        return PlannedDish(task.name, task.cost)
    start_s = at_s + task.place * STEP_S
    return PlannedDish(
        task.name,
        task.cost,
        start_s,
        start_s + task.cost.minutes * 60.0,
        task.found.drawn_ah,
        task.found.from_sun_wh,
    )


def _reasons(
    view: OutlookView,
    placer: Placer,
    tasks: Sequence[Task],
    together: Together,
    together_chance: float,
    at_s: float,
) -> list[Phrase]:
    out: list[Phrase] = []
    for task in tasks:
        if task.place is None:
            over = placer.alone(task)
            out.extend(
                phrase(
                    "advice.of_dish",
                    dish=task.name,
                    reason=overload_reason(o, len(task.draw.appliances) > 1),
                )
                for o in over
            )
            if not over:
                out.append(phrase("advice.finds_no_place", dish=task.name))
    out.extend(
        phrase(
            "advice.draws_at",
            dish=task.name,
            start_s=task.found.at_s,
            drawn_ah=task.found.drawn_ah,
            now_s=at_s,
        )
        for task in sorted(tasks, key=lambda t: t.place or 0)
        if task.found is not None
    )
    out.append(
        phrase(
            "advice.together",
            drawn_ah=together.drawn_ah,
            reserve_soc=view.boat.bank.reserve_soc,
            chance=together_chance,
        )
    )
    return out
