"""The bank's course over the steps ahead, with and without a dish.

Without a dish the course is stepped through once per member. A dish then lowers it by a
deficit which stays until the sun that a full bank would have turned away fills it again;
so any start is answered from the one course and two running sums, exactly.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import inf
from typing import Final

from ..bank.bank_laws import peukert_exponent, peukert_factor
from ..bank.bank_meter import PointEnergy
from ..boat.boat import Bank

FULL_SOC: Final = 100.0


@dataclass(frozen=True, slots=True)
class BankModel:
    """What a step needs of the bank; energies per percent at the bank's terminals."""

    bank: Bank
    point: PointEnergy
    voltage_v: float
    takes_charge: bool
    step_h: float
    rated_w: float
    """Up to here a discharge counts as it is; beyond, Peukert's law makes it count more."""

    def discharge_points(self, power_w: float) -> float:
        """Return the percent that a discharge takes in one step, Peukert within."""
        points = power_w * self.step_h / self.point.discharge_wh
        if power_w > self.rated_w:
            points *= peukert_factor(power_w / self.voltage_v, self.bank)
        return points

    def charge_points(self, power_w: float) -> float:
        """Return the percent that a surplus would give in one step, were there room."""
        if not self.takes_charge:
            return 0.0
        return power_w * self.step_h / self.point.charge_wh


def bank_model_of(
    bank: Bank, point: PointEnergy, voltage_v: float, takes_charge: bool, step_h: float
) -> BankModel:
    """Return the bank for steps of so many hours."""
    rated_w = inf
    if peukert_exponent(bank) > 1.0:
        rated_w = bank.capacity_ah / bank.rated_hours * voltage_v
    return BankModel(bank, point, voltage_v, takes_charge, step_h, rated_w)


@dataclass(frozen=True, slots=True)
class BankPath:
    """The course of one member without the dish, percent.

    `soc` has one more value than there are steps. `refused` is what a full bank turned
    away before each of these moments (a running sum, percent); `lifted` is their sum,
    which is what a lasting deficit is measured against.
    """

    soc: list[float]
    refused: list[float]
    lifted: list[float]
    lowest: float
    """The least charge of the whole course."""


@dataclass(frozen=True, slots=True)
class DishEffect:
    """What one start of the dish does to one member's course.

    `drawn_wh` came out of the bank, `solar_wh` straight from the sun (both at the bank's
    side); `lowest` is the least charge from start to end of the look, percent;
    `refused_wh` is the sun turned away from now to the end of the look, before the start
    too: a late start uses nothing of what was turned away while it waited. `owed_wh` is
    what the bank still lacks at the end of the look for the dish having been cooked.
    """

    drawn_wh: float
    solar_wh: float
    lowest: float
    refused_wh: float
    owed_wh: float


def follow(
    model: BankModel, soc: float, supply_w: Sequence[float], demand_w: Sequence[float]
) -> BankPath:
    """Step through the course without a dish. The charge may fall below 0: a shortage."""
    course = [soc]
    refused_each = [0.0]
    for supply, demand in zip(supply_w, demand_w, strict=True):
        net_w = supply - demand
        if net_w < 0.0:
            soc -= model.discharge_points(-net_w)
            refused_each.append(0.0)
        else:
            soc += model.charge_points(net_w)
            over = soc - FULL_SOC
            if over > 0.0:
                soc = FULL_SOC
                refused_each.append(over)
            else:
                refused_each.append(0.0)
        course.append(soc)
    refused = list(accumulate(refused_each))
    lifted = [s + r for s, r in zip(course, refused, strict=True)]
    return BankPath(course, refused, lifted, min(course))


def with_dish(
    model: BankModel,
    path: BankPath,
    solar_w: Sequence[float],
    supply_w: Sequence[float],
    demand_w: Sequence[float],
    start: int,
    dish_w: Sequence[float],
    end: int,
) -> DishEffect:
    """Return what a dish does that draws `dish_w` in the steps from `start` on.

    Args:
        model: the bank.
        path: the member's course without the dish.
        solar_w: the sun, W by step.
        supply_w: sun and other charging together, W by step.
        demand_w: everything but the dish, W by step.
        start: first step of the dish.
        dish_w: the dish's power at the bank's side, W by its steps.
        end: the moment up to which the lowest charge is looked for.
    """
    soc = path.soc[start]
    lowest = soc
    drawn_wh = solar_wh = 0.0
    refused = path.refused[start]
    step_h = model.step_h
    i = start
    for power_w in dish_w:
        demand, supply = demand_w[i] + power_w, supply_w[i]
        lacking_w = demand - supply
        if lacking_w > 0.0:
            soc -= model.discharge_points(lacking_w)
            if demand > 0.0:
                share = power_w / demand * step_h
                drawn_wh += share * lacking_w
                solar_wh += share * solar_w[i]
        else:
            soc += model.charge_points(-lacking_w)
            if soc > FULL_SOC:
                refused += soc - FULL_SOC
                soc = FULL_SOC
            if supply > 0.0:
                solar_wh += power_w * step_h * solar_w[i] / supply
        lowest = min(lowest, soc)
        i += 1
    deficit = path.soc[i] - soc
    before = path.refused[i]
    made_good = bisect_left(path.refused, before + deficit, i, end + 1)
    if made_good > i:
        lowest = min(lowest, min(path.lifted[i:made_good]) - before - deficit)
    if made_good <= end:
        lowest = min(lowest, *path.soc[made_good : end + 1])
    left = path.refused[end] - before - deficit
    refused += max(left, 0.0)
    return DishEffect(
        drawn_wh,
        solar_wh,
        lowest,
        refused * model.point.charge_wh,
        max(-left, 0.0) * model.point.discharge_wh,
    )
