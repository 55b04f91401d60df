"""Every possible start of a dish, weighed over the family of possible futures."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from ..outlook.outlook_view import OutlookView
from ..sky.quantiles import quantile
from .bank_path import BankModel, BankPath, bank_model_of, follow, with_dish
from .grid import STEP_H, STEP_S
from .scenario import Scenario

_CLOSE_POINTS: Final = 2.0

_LOWEST_SPREAD: Final = 1.2
"""What the range of the lowest charge is widened by: as it came it held 72 % where 80 were
told, on eight boats by 25 days drawn for `script/bench advice`."""


@dataclass(frozen=True, slots=True)
class Start:
    """What one start comes to.

    `drawn_ah` is what the dish takes out of the bank and `from_sun_wh` what it takes
    straight from the sun on the AC side, both expected; charges are percent, from the start
    to the end of the look; `refused_wh` is the sun turned away from now to that end.
    By future: `owed_wh` is what the bank lacks at that end for the dish having been
    cooked, `caused` whether the dish takes it below a reserve it would have kept, and
    `closeness` the same by degrees: 0.5 at the reserve, 0 and 1 two points off, since a
    few dozen futures are too coarse to tell near misses.
    """

    at_s: float
    drawn_ah: float
    soc_lowest: float
    soc_lowest_p10: float
    chance_above_reserve: float
    from_sun_wh: float
    refused_wh: float
    soc_lowest_p90: float = 0.0
    owed_wh: tuple[float, ...] = field(default=(), repr=False)
    caused: tuple[bool, ...] = field(default=(), repr=False)
    closeness: tuple[float, ...] = field(default=(), repr=False)

    dish_wh: float = 0.0

    @property
    def owed_share(self) -> float:
        """What of the dish's energy is expected to be missing at the end, 0 to about 1."""
        if not self.owed_wh or self.dish_wh <= 0.0:
            return 1.0
        return sum(self.owed_wh) / len(self.owed_wh) / self.dish_wh

    @property
    def chance_caused(self) -> float:
        """The chance of a breach of the reserve by the dish's doing, 0 to 1."""
        return sum(self.caused) / len(self.caused) if self.caused else 0.0


def bank_model(view: OutlookView, takes_charge: bool) -> BankModel:
    """Return the bank as a scenario steps it."""
    bank = view.boat.bank
    return bank_model_of(bank, view.point_energy, view.voltage_v, takes_charge, STEP_H)


def base_paths(model: BankModel, scenario: Scenario) -> list[BankPath]:
    """Return each member's course without the dish."""
    return [
        follow(model, soc, supply_w, demand_w)
        for soc, supply_w, demand_w in zip(
            scenario.soc, scenario.supply_w, scenario.demand_w, strict=True
        )
    ]


@dataclass(frozen=True, slots=True)
class DishPower:
    """A dish at the bank's side: mean power over its minutes, and its relative spread."""

    dc_w: float
    minutes: float
    spread: float
    wh_per_dc_wh: float

    def steps_w(self, factor: float) -> list[float]:
        """Return the power by step, for a cooking that deviates by `factor` spreads."""
        power_w = self.dc_w * max(1.0 + self.spread * factor, 0.2)
        length = self.minutes * 60.0 / STEP_S
        whole = int(length)
        rest = length - whole
        return [power_w] * whole + ([power_w * rest] if rest > 1e-9 else [])


def dish_power(
    view: OutlookView, energy_wh: float, spread_wh: float, minutes: float
) -> DishPower:
    """Return a dish as the bank sees it."""
    minutes = max(minutes, 1.0)
    ac_w = energy_wh * 60.0 / minutes
    dc_w = view.conversion.dish_dc_w(ac_w)
    spread = spread_wh / energy_wh if energy_wh > 0.0 else 0.0
    return DishPower(dc_w, minutes, spread, ac_w / dc_w if dc_w > 0.0 else 1.0)


def weigh_start(
    view: OutlookView,
    model: BankModel,
    scenario: Scenario,
    paths: Sequence[BankPath],
    powers: Sequence[Sequence[float]],
    dish: DishPower,
    start: int,
) -> Start:
    """Return what a start at one step comes to.

    `powers` are the dish's steps in W by member. The look goes from the start to the end
    of the scenario, which is the same for every start.
    """
    reserve = view.boat.bank.reserve_soc
    end = scenario.grid.steps
    drawn_wh = solar_wh = refused_wh = 0.0
    above = 0
    lows: list[float] = []
    owed_wh: list[float] = []
    caused: list[bool] = []
    closeness: list[float] = []
    for path, solar_w, supply_w, demand_w, dish_w in zip(
        paths,
        scenario.solar_w,
        scenario.supply_w,
        scenario.demand_w,
        powers,
        strict=True,
    ):
        effect = with_dish(model, path, solar_w, supply_w, demand_w, start, dish_w, end)
        drawn_wh += effect.drawn_wh
        solar_wh += effect.solar_wh
        refused_wh += effect.refused_wh
        lows.append(effect.lowest)
        above += effect.lowest >= reserve
        owed_wh.append(effect.owed_wh)
        kept = path.lowest >= reserve
        caused.append(kept and effect.lowest < reserve)
        under = (reserve + _CLOSE_POINTS - effect.lowest) / (2.0 * _CLOSE_POINTS)
        closeness.append(min(max(under, 0.0), 1.0) if kept else 0.0)
    count = len(lows)
    lows.sort()
    middle = quantile(lows, 0.5)
    low, high = (
        middle + _LOWEST_SPREAD * (quantile(lows, share) - middle)
        for share in (0.1, 0.9)
    )
    return Start(
        scenario.grid.time_s(start),
        drawn_wh / count / view.cooking_voltage_v(dish.dc_w),
        max(middle, 0.0),
        max(low, 0.0),
        above / count,
        solar_wh / count * dish.wh_per_dc_wh,
        refused_wh / count,
        min(max(high, 0.0), 100.0),
        tuple(owed_wh),
        tuple(caused),
        tuple(closeness),
        dish.dc_w * dish.minutes / 60.0,
    )
