"""What may still be cooked until the charge turns upward again, with the reserve kept.

For every possible course of the hours ahead, with no meal in it, the least charge of the
coming night is looked for: from the day's highest on until the sun of the next day covers
the load, or to about its noon where it never does. What lies between that and the
reserve can be cooked; nine courses in ten allow the figure that is told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..meals.meal_builder import HOT_DRINK
from ..outlook.habits import HOT_WATER
from ..outlook.outlook_view import OutlookView
from ..sky.quantiles import quantile
from ..sky.sun import next_sunrise_s
from .bank_path import BankModel, BankPath
from .charging_ahead import with_habits
from .grid import STEPS_PER_DAY, Grid
from .scenario import Scenario, build_scenario
from .starts import base_paths

LOOK_STEPS: Final = STEPS_PER_DAY + STEPS_PER_DAY // 2
_COOKING_W: Final = 1500.0
_COVERED_STEPS: Final = 2
_MORNING_STEPS: Final = 28


@dataclass(frozen=True, slots=True)
class LeftToCook:
    """Energy on the AC side in Wh: nine in ten, one in two, and one in ten allow it.

    `ah` is the first of them as amp-hours at the bank. `until_s` is when the charge is
    expected to turn upward, None if not within the look.
    """

    wh: float
    wh_middle: float
    wh_high: float
    ah: float
    until_s: float | None


def left_to_cook(
    view: OutlookView,
    model: BankModel,
    at_s: float,
    cooking_now: str | None = None,
    solar_w: list[list[float]] | None = None,
) -> LeftToCook:
    """Return what may still be cooked from now on.

    Hot water and hot drinks that are usual are counted on; meals are what is asked about.

    Args:
        view: what is known; its charge must be known too.
        model: the bank.
        at_s: the present, Unix time.
        cooking_now: label of the meal in progress.
        solar_w: the sun of `LOOK_STEPS` steps by future, where it is at hand.
    """
    meals = {use.label for use in view.uses} - {HOT_DRINK, HOT_WATER}
    sunrise_s = next_sunrise_s(*view.position, at_s)
    dawn = LOOK_STEPS
    if sunrise_s is not None:
        dawn = Grid(at_s, LOOK_STEPS).index(sunrise_s)
    steps = min(dawn + _MORNING_STEPS, LOOK_STEPS)
    if solar_w is not None:
        solar_w = [row[:steps] for row in solar_w]
    scenario = build_scenario(view, at_s, steps, meals, cooking_now, solar_w=solar_w)
    scenario = with_habits(view, model, scenario)
    points: list[float] = []
    turns: list[int] = []
    for place, path in enumerate(base_paths(model, scenario)):
        turn = _turn(scenario, place, dawn)
        points.append(_least(path, dawn, turn) - view.boat.bank.reserve_soc)
        turns.append(turn)
    points.sort()
    turns.sort()
    turn = turns[len(turns) // 2]
    per_point_wh = _COOKING_W * model.step_h / model.discharge_points(_COOKING_W)
    to_ac = _COOKING_W / max(view.conversion.dish_dc_w(_COOKING_W), 1.0)
    # A percent is so many amp-hours; under a cooking load they come at a lower voltage.
    voltage_v = view.cooking_voltage_v(_COOKING_W)
    per_point_wh *= voltage_v / view.voltage_v
    low_wh, middle_wh, high_wh = (
        max(quantile(points, share), 0.0) * per_point_wh * to_ac
        for share in (0.1, 0.5, 0.9)
    )
    return LeftToCook(
        low_wh,
        middle_wh,
        high_wh,
        low_wh / to_ac / voltage_v,
        scenario.grid.time_s(turn) if turn < steps else None,
    )


def _turn(scenario: Scenario, member: int, dawn: int) -> int:
    """Return the first step from dawn on at which the supply covers the load for good.

    On a day so grey that it never does, the charge is looked at until about its noon.
    """
    supply_w, demand_w = scenario.supply_w[member], scenario.demand_w[member]
    covered = 0
    end = min(dawn + _MORNING_STEPS, len(demand_w))
    for i in range(dawn, end):
        covered = covered + 1 if supply_w[i] > demand_w[i] else 0
        if covered == _COVERED_STEPS:
            return i - _COVERED_STEPS + 1
    return end


def _least(path: BankPath, dawn: int, turn: int) -> float:
    """Return the least charge from the highest before dawn on, to the turn."""
    before: Sequence[float] = path.soc[: max(dawn, 1)]
    peak = max(range(len(before)), key=before.__getitem__)
    return min(path.soc[peak : turn + 1])
