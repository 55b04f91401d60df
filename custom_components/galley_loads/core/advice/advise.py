"""Advice on one dish: the hours ahead for every possible start, and a verdict."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from ..outlook.habits import usual_uses
from ..outlook.outlook_view import OutlookView
from ..phrase import Phrase, phrase
from ..sky.quantiles import quantile
from ..sky.sky_history import quarter_of
from ..sky.sun import next_sunrise_s
from .answer import Advice, ForecastStep, Verdict
from .bank_path import BankModel, BankPath, follow
from .charging_ahead import with_habits
from .freshness import check_freshness
from .grid import STEP_S, STEPS_PER_DAY, Grid
from .left_to_cook import LOOK_STEPS, left_to_cook
from .limits import background_ac_w, draw_of, overloads
from .reasons import (
    cost_reason,
    course_reason,
    decision_reasons,
    habit_reason,
    left_reason,
    overload_reason,
    state_reasons,
)
from .request import DishRequest, StartWindow, start_window
from .scenario import Scenario, build_scenario, sun_ahead
from .starts import DishPower, Start, bank_model, base_paths, dish_power, weigh_start
from .verdict import Decision, decide

_FULL: Final = 99.5
_CLEAR_SKY_INDEX_QUARTERS: Final = 4


def advise(
    view: OutlookView,
    request: DishRequest,
    at_s: float,
    *,
    said: Sequence[Phrase] = (),
    newest_reading_s: float | None = None,
    cooking_now: str | None = None,
) -> Advice:
    """Return whether to cook now, to wait, or to hold off.

    A pure function of its arguments, fit for another thread.

    Args:
        view: what is known.
        request: what is to be cooked, and when it may start.
        at_s: the present, Unix time.
        said: what is said already about silent sensors.
        newest_reading_s: when a sensor last reported, where that is known; without it the
            newest load sample counts, which may only repeat what held.
        cooking_now: label of the meal in progress, whose usual time is then past.
    """
    dish = request.dish
    cost = view.cookbook.cost(view.boat, dish)
    fresh = check_freshness(view, at_s, said, newest_reading_s)
    if fresh.missing:
        return Advice(Verdict.UNKNOWN, at_s, dish.name, fresh.missing, cost=cost)
    if cost.energy_wh <= 0.0:
        reason = phrase("advice.cost_unknown", dish=dish.name)
        return Advice(Verdict.UNKNOWN, at_s, dish.name, (reason,), cost=cost)
    left_out = frozenset({request.instead_of} if request.instead_of else ())
    window = start_window(request, view.boat, at_s, cost.minutes)
    first, last, steps = lay_out(window, at_s, cost.minutes)
    sun_w = sun_ahead(view, Grid(at_s, max(steps, LOOK_STEPS)))
    scenario = build_scenario(
        view,
        at_s,
        steps,
        left_out,
        cooking_now,
        solar_w=[row[:steps] for row in sun_w],
    )
    model = bank_model(view, scenario.takes_charge)
    by_sun = scenario
    scenario = with_habits(view, model, scenario)
    paths = base_paths(model, scenario)
    power = dish_power(view, cost.energy_wh, cost.spread_wh, cost.minutes)
    starts = weigh_starts(view, model, scenario, paths, power, first, last)
    dish_dc_wh = power.dc_w * power.minutes / 60.0
    dish_ah = dish_dc_wh / view.cooking_voltage_v(power.dc_w)
    over = overloads(view, [draw_of(view, cost)], background_ac_w(view))
    without = _chance_without(view, paths)
    decision = decide(starts, cost.energy_wh, request.patience, without)
    if over:
        decision = Decision(Verdict.HOLD_OFF, starts[0])
    clear_sky_index = present_clear_sky_index(view, at_s)
    reasons = [
        *(overload_reason(o, len(cost.appliances) > 1) for o in over),
        *([] if over else decision_reasons(view, decision, starts, at_s, without)),
        cost_reason(dish.name, cost, dish_ah),
    ]
    if window.late:
        reasons.insert(len(over), phrase("advice.too_late"))
    usual = usual_uses(view.uses, view.boat.time_zone, at_s, view.first_s)
    habit = habit_reason(view, usual, at_s, left_out)
    if habit is not None:
        reasons.append(habit)
    reasons.extend(state_reasons(view, clear_sky_index))
    reasons.extend(fresh.notes)
    so_far = Advice(
        decision.verdict,
        at_s,
        dish.name,
        tuple(reasons),
        confidence=_confidence(decision, starts, bool(over)),
        cost=cost,
        dish_ah=dish_ah,
        clear_sky_index=clear_sky_index,
        overloads=over,
        starts=starts,
        gain_wh=decision.gain_wh if decision.verdict is Verdict.WAIT else None,
        left=left_to_cook(
            view, model, at_s, cooking_now, [row[:LOOK_STEPS] for row in sun_w]
        ),
        chance_without=without,
        chance_caused=decision.caused,
        chance_without_engine=_chance_by_sun(
            view, model, by_sun, scenario, power, decision
        ),
    )
    return _answer(view, scenario, model, paths, power, decision, so_far)


def lay_out(window: StartWindow, at_s: float, minutes: float) -> tuple[int, int, int]:
    """Return the first and last step at which the dish may start, and how many to look at.

    The look is a day long, and goes half a day beyond the last start where that is later;
    it has one end for all starts, so that none seems better for being looked at less.
    """
    first = max(int((window.first_s - at_s) / STEP_S + 0.999), 0)
    last = max(int((window.last_s - at_s) / STEP_S), first)
    length = int(minutes * 60.0 / STEP_S) + 2
    steps = max(STEPS_PER_DAY, last + max(STEPS_PER_DAY // 2, length))
    return first, last, steps


def weigh_starts(
    view: OutlookView,
    model: BankModel,
    scenario: Scenario,
    paths: Sequence[BankPath],
    power: DishPower,
    first: int,
    last: int,
) -> tuple[Start, ...]:
    """Return what each start from one step to another comes to, in order of time."""
    powers = [power.steps_w(factor) for factor in scenario.dish_factor]
    return tuple(
        weigh_start(view, model, scenario, paths, powers, power, start)
        for start in range(first, last + 1)
    )


def _chance_without(view: OutlookView, paths: Sequence[BankPath]) -> float:
    """Return the chance that the bank keeps its reserve to the end without the dish."""
    reserve = view.boat.bank.reserve_soc
    kept = sum(path.lowest >= reserve for path in paths)
    return kept / len(paths)


def _chance_by_sun(
    view: OutlookView,
    model: BankModel,
    by_sun: Scenario,
    scenario: Scenario,
    power: DishPower,
    decision: Decision,
) -> float | None:
    """Return the chance to keep the reserve if the engine does not run as usual.

    None where no habit of charging is counted on.
    """
    if scenario is by_sun:
        return None
    place = round((decision.start.at_s - by_sun.grid.at_s) / STEP_S)
    powers = [power.steps_w(factor) for factor in by_sun.dish_factor]
    paths = base_paths(model, by_sun)
    start = weigh_start(view, model, by_sun, paths, powers, power, place)
    return start.chance_above_reserve


def _confidence(decision: Decision, starts: Sequence[Start], overloaded: bool) -> float:
    if overloaded:
        return 1.0
    if decision.verdict is Verdict.HOLD_OFF:
        return 1.0 - max(s.chance_above_reserve for s in starts)
    return decision.start.chance_above_reserve


def present_clear_sky_index(view: OutlookView, at_s: float) -> float | None:
    """Return the clear-sky index of the last daylight hour, None at night or unseen."""
    if not view.has_sun or not view.sky.days:
        return None
    now = quarter_of(at_s)
    past = view.sky.clear_sky_index_until(at_s, last_days=2)
    recent = past.seen[max(now - _CLEAR_SKY_INDEX_QUARTERS - past.first, 0) :]
    seen = [k for k in recent if k is not None]
    return sum(seen) / len(seen) if seen else None


def _answer(
    view: OutlookView,
    scenario: Scenario,
    model: BankModel,
    paths: Sequence[BankPath],
    power: DishPower,
    decision: Decision,
    so_far: Advice,
) -> Advice:
    """Fill in what belongs to the chosen start and to the day ahead."""
    grid, start = scenario.grid, decision.start
    place = round((start.at_s - grid.at_s) / STEP_S)
    with_it = _course_with_dish(model, scenario, power, place)
    lowest = min(range(place, grid.steps + 1), key=lambda i: with_it[i])
    full = next((i for i in range(1, STEPS_PER_DAY + 1) if with_it[i] >= _FULL), None)
    sunrise_s = next_sunrise_s(*view.position, grid.at_s)
    at_sunrise = None
    if sunrise_s is not None:
        at_sunrise = with_it[min(grid.index(sunrise_s), grid.steps)]
    told = decision.verdict in (Verdict.COOK_NOW, Verdict.WAIT)
    course = course_reason(
        start,
        grid.at_s,
        view.charge.soc or 0.0,
        with_it[min(place + len(power.steps_w(0.0)), grid.steps)],
        grid.time_s(lowest),
    )
    reasons = [*so_far.reasons[:1], course, *so_far.reasons[1:]]
    if so_far.left is not None and so_far.left.until_s is not None:
        reasons.insert(2, left_reason(so_far.left, so_far.left.until_s, grid.at_s))
    return replace(
        so_far,
        reasons=tuple(reasons),
        start_s=start.at_s if told else None,
        soc_now=view.charge.soc,
        above_reserve_wh=view.above_reserve_wh,
        soc_lowest=start.soc_lowest,
        soc_lowest_p10=start.soc_lowest_p10,
        lowest_at_s=grid.time_s(lowest),
        full_at_s=None if full is None else grid.time_s(full),
        drawn_ah=start.drawn_ah,
        from_sun_wh=start.from_sun_wh,
        soc_at_sunrise=None if at_sunrise is None else max(at_sunrise, 0.0),
        sunrise_s=sunrise_s,
        forecast=forecast_steps(view, scenario, paths),
    )


def _course_with_dish(
    model: BankModel, scenario: Scenario, power: DishPower, place: int
) -> list[float]:
    """Return the median course of charge with the dish started at a step."""
    courses: list[list[float]] = []
    for soc, supply_w, demand_w, factor in zip(
        scenario.soc,
        scenario.supply_w,
        scenario.demand_w,
        scenario.dish_factor,
        strict=True,
    ):
        row = list(demand_w)
        for i, power_w in enumerate(power.steps_w(factor), place):
            row[i] += power_w
        courses.append(follow(model, soc, supply_w, row).soc)
    return [quantile(sorted(column), 0.5) for column in zip(*courses, strict=True)]


def forecast_steps(
    view: OutlookView, scenario: Scenario, paths: Sequence[BankPath]
) -> tuple[ForecastStep, ...]:
    """Return the day ahead as a table: sun, background and charge with their ranges."""
    out: list[ForecastStep] = []
    for i in range(min(STEPS_PER_DAY, scenario.grid.steps)):
        sun = sorted(row[i] for row in scenario.solar_w)
        soc = sorted(path.soc[i] for path in paths)
        out.append(
            ForecastStep(
                scenario.grid.time_s(i),
                quantile(sun, 0.5),
                quantile(sun, 0.1),
                quantile(sun, 0.9),
                scenario.background_w[i] * view.boat.conversion,
                max(quantile(soc, 0.5), 0.0),
                max(quantile(soc, 0.1), 0.0),
                max(quantile(soc, 0.9), 0.0),
            )
        )
    return tuple(out)
