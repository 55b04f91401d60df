"""What the last months of meals would have done on another bank or array.

The past hours are run again: the same background, the same cooking, the same engine hours,
the sun that was offered (a full bank's refusals undone) scaled to the other array.
"""

from dataclasses import dataclass, replace
from typing import Final

from ..bank.bank_meter import PointEnergy
from ..boat.boat import Bank
from ..outlook.demand_history import HOUR_S, PastHour
from ..outlook.habits import HOT_WATER, boat_time
from ..outlook.outlook_view import OutlookView
from ..phrase import PhrasedError, phrase
from .bank_path import BankModel, BankPath, bank_model_of, follow

_START_SOC: Final = 80.0
_SETTLING_HOURS: Final = 48


@dataclass(frozen=True, slots=True)
class Changes:
    """What is to be other than it is; None leaves it as it is."""

    capacity_ah: float | None = None
    reserve_soc: float | None = None
    array_power_w: float | None = None


@dataclass(frozen=True, slots=True)
class MonthsPast:
    """What the past came to on one bank and array.

    `days` were looked at; `days_below_reserve` of them touched the reserve.
    `turned_away_wh` is the sun that a full bank refused, at the array; `short_wh` what an
    empty bank could not give. `ah_per_meal` is what a meal drew from the bank on average,
    hot water from a heater aside; None without meals.
    """

    days: int
    days_below_reserve: int
    lowest_soc: float
    turned_away_wh: float
    short_wh: float
    meals: int
    ah_per_meal: float | None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The past as it would have been, beside the same reckoning on the boat as it is."""

    as_is: MonthsPast
    changed: MonthsPast


class NotEnoughPast(PhrasedError):
    """There are too few past days to say anything."""


def what_if(view: OutlookView, changes: Changes, days: int = 90) -> WhatIf:
    """Return the last `days` on the boat as it is and as it might be.

    Raises:
        NotEnoughPast: fewer than three days of history.
        PhrasedError: a change is not above 0, or a reserve is not within 0 to 100.
    """
    _check(changes)
    hours = sorted(view.past_hours.items())
    if hours:
        hours = [(h, past) for h, past in hours if h > hours[-1][0] - 24 * days]
    if len(hours) < 72:
        raise NotEnoughPast(
            phrase("problem.not_enough_past", days=len(hours) // 24, least_days=3)
        )
    bank = view.boat.bank
    other = replace(
        bank,
        capacity_ah=changes.capacity_ah or bank.capacity_ah,
        reserve_soc=bank.reserve_soc
        if changes.reserve_soc is None
        else changes.reserve_soc,
    )
    array_scale = 1.0
    if changes.array_power_w is not None:
        array_scale = changes.array_power_w / view.array_w
    return WhatIf(
        _reckon(view, hours, bank, 1.0), _reckon(view, hours, other, array_scale)
    )


def _check(changes: Changes) -> None:
    for name in ("capacity_ah", "array_power_w"):
        value = getattr(changes, name)
        if value is not None and value <= 0.0:
            raise PhrasedError(
                phrase("problem.not_above_zero", field=name, value=value)
            )
    reserve = changes.reserve_soc
    if reserve is not None and not 0.0 <= reserve < 100.0:
        raise PhrasedError(
            phrase("problem.no_reserve", field="reserve_soc", value=reserve)
        )


def _reckon(
    view: OutlookView, hours: list[tuple[int, PastHour]], bank: Bank, scale: float
) -> MonthsPast:
    size = bank.capacity_ah / view.boat.bank.capacity_ah
    point = PointEnergy(
        view.point_energy.discharge_wh * size, view.point_energy.charge_wh * size
    )
    model = bank_model_of(bank, point, view.voltage_v, True, 1.0)
    supply_w = [past.solar_w * scale + past.other_w for _, past in hours]
    demand_w = [past.background_w + past.galley_w for _, past in hours]
    path = _follow(model, supply_w, demand_w)
    zone = view.boat.time_zone
    looked_at = {boat_time(hour * HOUR_S, zone).date() for hour, _ in hours}
    below = {
        boat_time(hour * HOUR_S, zone).date()
        for (hour, _), soc in zip(hours, path.soc[1:], strict=True)
        if soc < bank.reserve_soc
    }
    meals, drawn_ah = _meals(view, hours, supply_w, demand_w)
    return MonthsPast(
        len(looked_at),
        len(below),
        max(min(path.soc), 0.0),
        path.refused[-1] * point.charge_wh,
        max(-min(path.soc), 0.0) * point.discharge_wh,
        meals,
        drawn_ah / meals if meals else None,
    )


def _follow(model: BankModel, supply_w: list[float], demand_w: list[float]) -> BankPath:
    """Follow the past from a charge that two of its own days have settled."""
    first = follow(
        model, _START_SOC, supply_w[:_SETTLING_HOURS], demand_w[:_SETTLING_HOURS]
    )
    start = min(max(first.soc[-1], 0.0), 100.0)
    return follow(model, start, supply_w, demand_w)


def _meals(
    view: OutlookView,
    hours: list[tuple[int, PastHour]],
    supply_w: list[float],
    demand_w: list[float],
) -> tuple[int, float]:
    """Return how many meals there were, and what they drew from the bank together."""
    from_bank = {
        hour: max(demand - supply, 0.0) / demand if demand > 0.0 else 0.0
        for (hour, _), supply, demand in zip(hours, supply_w, demand_w, strict=True)
    }
    count, drawn_ah = 0, 0.0
    for use in view.uses:
        shares = [
            from_bank[hour]
            for hour in range(int(use.start_s // HOUR_S), int(use.end_s // HOUR_S) + 1)
            if hour in from_bank
        ]
        if use.label == HOT_WATER or not shares:
            continue
        count += 1
        use_h = max(use.end_s - use.start_s, 60.0) / HOUR_S
        dc_w = view.conversion.dish_dc_w(use.energy_wh / use_h)
        drawn_wh = dc_w * use_h * sum(shares) / len(shares)
        drawn_ah += drawn_wh / view.cooking_voltage_v(dc_w)
    return count, drawn_ah
