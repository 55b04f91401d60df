"""Whether the bank keeps its reserve until the morning, with what is being cooked."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from ..advice.bank_path import follow
from ..advice.grid import STEP_H, STEP_S
from ..advice.scenario import build_scenario
from ..advice.starts import bank_model
from ..outlook.outlook_view import OutlookView
from ..sky.quantiles import quantile
from ..sky.sun import next_sunrise_s

_LONGEST_S: Final = 15 * 3600.0
"""From a morning, the next dawn is a day of weather and meals away; that is not asked."""
_MORNING_S: Final = 2 * 3600.0
"""For some time after sunrise the array gives less than the boat takes."""


@dataclass(frozen=True, slots=True)
class NightOutlook:
    """The charge ahead, up to the next morning.

    `lowest_soc` is the expected lowest charge, percent, reached at `lowest_at_s`;
    `chance_below` how likely (0 to 1) it comes below the reserve.
    """

    at_s: float
    lowest_soc: float
    lowest_at_s: float
    chance_below: float


def night_outlook(
    view: OutlookView, at_s: float, remaining_wh: Mapping[str, float], label: str | None
) -> NightOutlook | None:
    """Return how the charge is expected to go until the next morning.

    A pure function of its arguments, fit for another thread.

    Args:
        view: what is known of sun, bank and habits.
        at_s: the present, Unix time.
        remaining_wh: what the appliances that run are expected to take still, Wh on the
            AC side, by name.
        label: the meal in progress, which then does not happen a second time.

    Returns:
        None where the charge is not known, or where no dawn is less than fifteen hours away.
    """
    if view.charge.soc is None:
        return None
    dawn_s = next_sunrise_s(*view.position, at_s)
    if dawn_s is None or dawn_s - at_s > _LONGEST_S:
        return None
    steps = int((dawn_s + _MORNING_S - at_s) / STEP_S) + 1
    scenario = build_scenario(view, at_s, steps, (), label)
    model = bank_model(view, scenario.takes_charge)
    # What is cooking goes on over the next quarter hours at most an hour.
    cooking_dc_wh = view.conversion.dish_dc_w(sum(remaining_wh.values()))
    cooking_steps = max(1, min(4, steps))
    extra_w = cooking_dc_wh / (cooking_steps * STEP_H)
    lowest: list[tuple[float, int]] = []
    for soc, supply_w, demand_w in zip(
        scenario.soc, scenario.supply_w, scenario.demand_w, strict=True
    ):
        with_cooking_w = [
            power_w + (extra_w if step < cooking_steps else 0.0)
            for step, power_w in enumerate(demand_w)
        ]
        course = follow(model, soc, supply_w, with_cooking_w).soc
        step = min(range(len(course)), key=course.__getitem__)
        lowest.append((course[step], step))
    lowest.sort()
    reserve = view.boat.bank.reserve_soc
    below = sum(soc < reserve for soc, _ in lowest) / len(lowest)
    _, step = lowest[len(lowest) // 2]
    return NightOutlook(
        at_s, quantile([soc for soc, _ in lowest], 0.5), at_s + step * STEP_S, below
    )
