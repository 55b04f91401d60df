"""The reasons of an answer, as phrases with their numbers."""

from collections.abc import Sequence
from typing import Final

from ..bank.charge_state import ChargeSource, voltage_soc_is_poor
from ..meals.dish_cost import CostSource, DishCost
from ..meals.meal_label import label_as_said
from ..metering.quarter_hours import is_full, turns_sun_away
from ..outlook.habits import HOT_WATER, UsualUse, boat_time
from ..outlook.outlook_view import OutlookView
from ..phrase import Phrase, phrase
from .answer import Verdict
from .left_to_cook import LeftToCook
from .limits import LimitKind, Overload
from .starts import Start
from .verdict import LEAST_CHANCE, Decision, Gain

_WORTH_SAYING_WH: Final = 20.0
_FREE_SHARE: Final = 0.05
"""Of a dish, when no more than this is missing in the bank a day later."""

_ONCE_A_DAY: Final = 1.3
"""What comes more often (tea, hot water) has no one time that could be told."""


def overload_reason(overload: Overload, several: bool) -> Phrase:
    """Return what is too much, and whether one after the other would do."""
    wanted, allowed = overload.wanted, overload.allowed
    in_turn = several and not overload.alone
    match overload.kind:
        case LimitKind.INVERTER if in_turn:
            return phrase(
                "advice.overload_inverter_in_turn", wanted_w=wanted, allowed_w=allowed
            )
        case LimitKind.INVERTER:
            return phrase(
                "advice.overload_inverter", wanted_w=wanted, allowed_w=allowed
            )
        case LimitKind.BREAKER if in_turn:
            return phrase(
                "advice.overload_breaker_in_turn",
                circuit=overload.name,
                wanted_a=wanted,
                allowed_a=allowed,
            )
        case LimitKind.BREAKER:
            return phrase(
                "advice.overload_breaker",
                circuit=overload.name,
                wanted_a=wanted,
                allowed_a=allowed,
            )
        case LimitKind.BANK if in_turn:
            return phrase(
                "advice.overload_bank_in_turn", wanted_a=wanted, allowed_a=allowed
            )
        case LimitKind.BANK:
            return phrase("advice.overload_bank", wanted_a=wanted, allowed_a=allowed)


def cost_reason(dish: str, cost: DishCost, dish_ah: float) -> Phrase:
    """Return what the dish takes and how that is known."""
    energy_wh = cost.energy_wh
    match cost.source:
        case CostSource.PAST_MEALS:
            return phrase(
                "advice.cost_past_meals",
                dish=dish,
                energy_wh=energy_wh,
                dish_ah=dish_ah,
                times=cost.times,
            )
        case CostSource.STATED:
            return phrase(
                "advice.cost_stated", dish=dish, energy_wh=energy_wh, dish_ah=dish_ah
            )
        case CostSource.TYPICAL:
            return phrase(
                "advice.cost_typical", dish=dish, energy_wh=energy_wh, dish_ah=dish_ah
            )


def course_reason(
    start: Start, at_s: float, soc_now: float, soc_after: float, lowest_s: float
) -> Phrase:
    """Return what the dish does to the bank: now, after it, and at its lowest."""
    return phrase(
        "advice.course",
        now_soc=soc_now,
        after_soc=max(soc_after, 0.0),
        lowest_soc=start.soc_lowest,
        lowest_s=lowest_s,
        lowest_p10_soc=start.soc_lowest_p10,
        lowest_p90_soc=start.soc_lowest_p90,
        now_s=at_s,
    )


def left_reason(left: LeftToCook, until_s: float, at_s: float) -> Phrase:
    """Return what may still be cooked, this dish within."""
    return phrase(
        "advice.left_to_cook",
        left_ah=left.ah,
        left_wh=left.wh,
        until_s=until_s,
        now_s=at_s,
    )


def decision_reasons(
    view: OutlookView,
    decision: Decision,
    starts: Sequence[Start],
    at_s: float,
    chance_without: float,
) -> list[Phrase]:
    """Return why the verdict is what it is.

    `chance_without` is the chance that the bank keeps its reserve for a day if nothing is
    cooked beyond the usual.
    """
    reserve_soc = view.boat.bank.reserve_soc
    now, chosen = starts[0], decision.start
    if decision.verdict is Verdict.HOLD_OFF:
        return _against(reserve_soc, starts, at_s, chance_without)
    if decision.verdict is Verdict.COOK_NOW:
        return _for_now(view, decision, chance_without)
    out: list[Phrase] = []
    if Gain.AVOIDS_BREACH in decision.gains:
        out.append(
            phrase(
                "advice.avoids_breach",
                reserve_soc=reserve_soc,
                chance=now.chance_above_reserve,
                start_s=chosen.at_s,
                chance_then=chosen.chance_above_reserve,
                now_s=at_s,
            )
        )
    if Gain.USES_REFUSED_SUN in decision.gains:
        out.append(
            phrase(
                "advice.uses_turned_away_sun",
                start_s=chosen.at_s,
                energy_wh=now.refused_wh - chosen.refused_wh,
                now_s=at_s,
            )
        )
    if Gain.LEAVES_MORE in decision.gains:
        out.append(
            phrase(
                "advice.leaves_more",
                start_s=chosen.at_s,
                gain_wh=max(decision.more_wh, 0.0),
                now_s=at_s,
            )
        )
    if now.chance_above_reserve >= LEAST_CHANCE:
        out.append(phrase("advice.now_is_safe_too", lowest_soc=now.soc_lowest))
    return out


def _for_now(
    view: OutlookView, decision: Decision, chance_without: float
) -> list[Phrase]:
    """Return why now is as good a time as any, and what is risked."""
    now = decision.start
    reserve_soc = view.boat.bank.reserve_soc
    out: list[Phrase] = []
    last = view.last
    if last is not None and is_full(view.boat, last) and now.owed_share < _FREE_SHARE:
        out.append(phrase("advice.full_bank_pays"))
    if now.chance_above_reserve >= LEAST_CHANCE:
        out.append(
            phrase(
                "advice.above_reserve_now",
                reserve_soc=reserve_soc,
                chance=now.chance_above_reserve,
                lowest_soc=now.soc_lowest,
            )
        )
    elif decision.caused <= 1.0 - LEAST_CHANCE:
        out.append(
            phrase(
                "advice.short_anyway",
                reserve_soc=reserve_soc,
                chance_without=chance_without,
                chance=now.chance_above_reserve,
            )
        )
    else:
        out.append(
            phrase(
                "advice.risk_now",
                reserve_soc=reserve_soc,
                chance=now.chance_above_reserve,
                chance_without=chance_without,
                lowest_soc=now.soc_lowest,
                lowest_p10_soc=now.soc_lowest_p10,
            )
        )
    out.append(_sun_reason(now))
    return out


def _against(
    reserve_soc: float, starts: Sequence[Start], at_s: float, chance_without: float
) -> list[Phrase]:
    """Return why no start is good."""
    now = starts[0]
    best = max(starts, key=lambda s: (s.chance_above_reserve, -s.at_s))
    out = [
        phrase(
            "advice.breaks_reserve",
            reserve_soc=reserve_soc,
            lowest_soc=now.soc_lowest,
            lowest_p10_soc=now.soc_lowest_p10,
            chance=now.chance_above_reserve,
        )
    ]
    if best.chance_above_reserve > now.chance_above_reserve:
        out.append(
            phrase(
                "advice.best_start",
                start_s=best.at_s,
                chance=best.chance_above_reserve,
                now_s=at_s,
            )
        )
    else:
        out.append(phrase("advice.later_no_better"))
    if chance_without < LEAST_CHANCE:
        out.append(phrase("advice.without_it", chance=chance_without))
    return out


def _sun_reason(start: Start) -> Phrase:
    if start.from_sun_wh < 5.0:
        return phrase("advice.none_from_sun")
    return phrase("advice.part_from_sun", energy_wh=start.from_sun_wh)


def habit_reason(
    view: OutlookView,
    usual: tuple[UsualUse, ...],
    at_s: float,
    left_out: frozenset[str],
) -> Phrase | None:
    """Return the next usual meals and hot water that the answer counts with."""
    hour_now = boat_time(at_s, view.boat.time_zone)
    hour = hour_now.hour + hour_now.minute / 60.0
    ahead = [
        use
        for use in usual
        if use.label not in left_out
        and use.start_hour > hour
        and use.energy_wh >= _WORTH_SAYING_WH
        and use.per_day <= _ONCE_A_DAY
    ]
    if not ahead:
        return None
    return phrase("advice.habits", uses=tuple(_usual(use) for use in ahead[:3]))


def _usual(use: UsualUse) -> Phrase:
    if use.label == HOT_WATER:
        return phrase(
            "advice.usual_hot_water",
            start_hour=use.start_hour,
            energy_wh=use.energy_wh,
        )
    return phrase(
        "advice.usual_meal",
        meal=label_as_said(use.label),
        start_hour=use.start_hour,
        energy_wh=use.energy_wh,
    )


def state_reasons(view: OutlookView, clear_sky_index: float | None) -> list[Phrase]:
    """Return what should be known of the ground the answer stands on."""
    out: list[Phrase] = []
    state = view.charge
    if state.source is ChargeSource.COUNTED:
        soc = state.soc or 0.0
        out.append(phrase("advice.charge_counted", soc=soc, doubt_points=state.doubt))
        if state.since_full_s is None:
            out.append(
                phrase("advice.counting_began_with_poor_voltage")
                if voltage_soc_is_poor(view.boat.bank, soc)
                else phrase("advice.counting_began_with_voltage")
            )
    if view.last is not None and turns_sun_away(view.boat, view.last):
        full = is_full(view.boat, view.last)
        out.append(
            phrase("advice.bank_full") if full else phrase("advice.charge_held_back")
        )
    elif clear_sky_index is not None:
        out.append(phrase("advice.sky", share=clear_sky_index))
    temperature_c = view.bank_temperature_c
    if temperature_c is not None and temperature_c < 0.0:
        if not view.boat.bank.chemistry.is_lead:
            out.append(phrase("advice.frost", temperature_c=temperature_c))
    if not view.has_sun:
        out.append(phrase("advice.no_array"))
    return out
