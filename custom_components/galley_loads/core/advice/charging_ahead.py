"""What the crew's habits of charging add to the hours ahead, future by future."""

from collections.abc import Sequence

from ..outlook.charging_habit import ClockHabit, NeedHabit, charging_habits
from ..outlook.habits import boat_time
from ..outlook.outlook_view import OutlookView
from .bank_path import FULL_SOC, BankModel
from .grid import STEP_H, Grid
from .scenario import Scenario


def with_habits(view: OutlookView, model: BankModel, scenario: Scenario) -> Scenario:
    """Return the hours ahead with the engine as the crew is used to run it.

    The same scenario where there is no habit. A run by need begins once the charge falls
    to where one of the past began; each future has another run of the past.
    """
    clock, need = charging_habits(
        view.charging_runs, view.boat.time_zone, scenario.grid.at_s, view.first_s
    )
    if clock is None and need is None:
        return scenario
    supply_w: list[list[float]] = []
    for member, (soc, supply, demand, solar) in enumerate(
        zip(
            scenario.soc,
            scenario.supply_w,
            scenario.demand_w,
            scenario.solar_w,
            strict=True,
        )
    ):
        row = list(supply)
        if clock is not None:
            share = (member * 7 % scenario.members + 0.5) / scenario.members
            _add_by_clock(row, solar, view, scenario.grid, clock, member, share)
        if need is not None:
            _add_by_need(row, model, soc, demand, need, member)
        supply_w.append(row)
    return scenario.with_supply(supply_w)


def _add_by_clock(
    row: list[float],
    solar_w: Sequence[float],
    view: OutlookView,
    grid: Grid,
    habit: ClockHabit,
    member: int,
    place: float,
) -> None:
    """Let the engine run in as many futures as it ran on days of the past.

    `place` is the future's place among them, 0 to 1. What comes at that hour daily may be
    in the supply already, and is not counted twice.
    """
    zone = view.boat.time_zone
    today = boat_time(grid.at_s, zone).date()
    ran_today = any(
        boat_time(run.start_s, zone).date() == today for run in view.charging_runs[-3:]
    )
    run = habit.runs[member % len(habit.runs)]
    first_hour = boat_time(grid.at_s, zone)
    present = first_hour.hour + first_hour.minute / 60.0
    start = round((habit.hour - present) % 24.0 / STEP_H)
    day = 0 if habit.hour > present else 1
    # A run that comes every second day is due on the day after one without.
    every = max(round(1.0 / habit.per_day), 1)
    last_s = habit.runs[-1].start_s
    while start < grid.steps:
        since = round((grid.time_s(start) - last_s) / 86_400.0)
        due = since % every == 0
        if due and place < habit.per_day * every and (day or not ran_today):
            end = start + max(round(run.hours / STEP_H), 1)
            for i in range(start, min(end, len(row))):
                row[i] = max(row[i], solar_w[i] + run.power_w)
        start, day = start + round(24.0 / STEP_H), day + 1


def _add_by_need(
    row: list[float],
    model: BankModel,
    soc: float,
    demand_w: Sequence[float],
    habit: NeedHabit,
    member: int,
) -> None:
    """Step through the course, and run the engine where the charge calls for it."""
    run = habit.runs[member % len(habit.runs)]
    until = -1
    for i, demand in enumerate(demand_w):
        if i > until and soc <= run.soc:
            until = i + max(round(run.hours / STEP_H), 1) - 1
        if i <= until:
            row[i] += run.power_w
        net_w = row[i] - demand
        if net_w < 0.0:
            soc -= model.discharge_points(-net_w)
        else:
            soc = min(soc + model.charge_points(net_w), FULL_SOC)
