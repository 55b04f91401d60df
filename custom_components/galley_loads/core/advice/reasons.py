"""The reasons of an answer as sentences with numbers."""

from collections.abc import Sequence
from typing import Final

from ..bank.charge_state import ChargeSource, voltage_soc_is_poor
from ..meals.dish_cost import CostSource, DishCost
from ..metering.quarter_hours import turns_sun_away
from ..outlook.habits import HOT_WATER, UsualUse, boat_time
from ..outlook.outlook_view import OutlookView
from .answer import Verdict
from .limits import LimitKind, Overload
from .starts import Start
from .verdict import LEAST_CHANCE, Decision, Gain
from .words import ampere_hours, chance, charge, clock, energy, percent

_WORTH_SAYING_WH: Final = 20.0
_ONCE_A_DAY: Final = 1.3
"""What comes more often (tea, hot water) has no one time that could be told."""


def overload_sentence(overload: Overload, several: bool) -> str:
    """Return what is too much, and whether one after the other would do."""
    wanted, allowed = overload.wanted, overload.allowed
    match overload.kind:
        case LimitKind.INVERTER:
            text = (
                f"Overload: {round(wanted):,} W at once is more than the inverter's "
                f"{round(allowed):,} W"
            )
        case LimitKind.BREAKER:
            text = (
                f"Overload: {wanted:.1f} A is more than the breaker of {overload.name} "
                f"carries, {allowed:g} A"
            )
        case LimitKind.BANK:
            text = f"Overload: {round(wanted)} A is more than the bank may give, {allowed:g} A"
    if several and not overload.alone:
        return f"{text}; one after the other it goes."
    return f"{text}."


def cost_sentence(dish: str, cost: DishCost, dish_ah: float) -> str:
    """Return what the dish takes and how that is known."""
    takes = f"{dish} takes about {energy(cost.energy_wh)}, {ampere_hours(dish_ah)} at the bank"
    match cost.source:
        case CostSource.PAST_MEALS:
            times = "once" if cost.times == 1 else f"{cost.times} times"
            return f"{takes}, as when it was cooked before ({times})."
        case CostSource.STATED:
            return f"{takes}, as stated."
        case CostSource.TYPICAL:
            return f"{takes}, by minutes and what such appliances draw."


def decision_sentences(
    view: OutlookView,
    decision: Decision,
    starts: Sequence[Start],
    at_s: float,
    chance_without: float,
) -> list[str]:
    """Return why the verdict is what it is.

    `chance_without` is the chance that the bank keeps its reserve for a day if nothing is
    cooked beyond the usual.
    """
    zone = view.boat.time_zone
    reserve = view.boat.bank.reserve_soc
    now, chosen = starts[0], decision.start
    out: list[str] = []
    if decision.verdict is Verdict.HOLD_OFF:
        best = max(starts, key=lambda s: (s.chance_above_reserve, -s.at_s))
        out.append(
            f"No start keeps the bank above its reserve of {charge(reserve)} surely enough. "
            f"Started now it falls to about {charge(now.soc_lowest)}, one time in ten to "
            f"{charge(now.soc_lowest_p10)}; the chance of staying above is "
            f"{chance(now.chance_above_reserve)}, and {percent(LEAST_CHANCE)} is asked for."
        )
        if best.chance_above_reserve > now.chance_above_reserve:
            out.append(
                f"The best start, {clock(best.at_s, at_s, zone)}, has a chance of "
                f"{chance(best.chance_above_reserve)}."
            )
        else:
            out.append("Later is no better.")
        if chance_without < LEAST_CHANCE:
            out.append(f"Without it the chance is {chance(chance_without)}.")
        return out
    if decision.verdict is Verdict.COOK_NOW:
        out.append(
            f"Started now, the bank stays above {charge(reserve)} with a chance of "
            f"{chance(now.chance_above_reserve)}; its lowest is about {charge(now.soc_lowest)}."
        )
        out.append(_sun_sentence(now))
        return out
    when = clock(chosen.at_s, at_s, zone)
    if Gain.AVOIDS_BREACH in decision.gains:
        out.append(
            f"Started now, the bank stays above {charge(reserve)} with a chance of "
            f"{chance(now.chance_above_reserve)}, less than {percent(LEAST_CHANCE)}; at {when} "
            f"it is {chance(chosen.chance_above_reserve)}."
        )
    if Gain.SPARES_BANK in decision.gains:
        out.append(
            f"Started at {when} it draws about {ampere_hours(chosen.drawn_ah)} from the bank "
            f"instead of {ampere_hours(now.drawn_ah)}."
        )
    if Gain.USES_REFUSED_SUN in decision.gains:
        used_wh = now.refused_wh - chosen.refused_wh
        out.append(
            f"At {when} it uses {energy(used_wh)} of sun that a full bank would turn away."
        )
    out.append(_sun_sentence(chosen))
    return out


def _sun_sentence(start: Start) -> str:
    if start.from_sun_wh < 5.0:
        return "None of it comes straight from the sun."
    return f"About {energy(start.from_sun_wh)} of it comes straight from the sun."


def habit_sentence(
    view: OutlookView,
    usual: tuple[UsualUse, ...],
    at_s: float,
    left_out: frozenset[str],
) -> str | None:
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
    parts = [
        f"{_named(use)} is usual at {_time(use.start_hour)} ({energy(use.energy_wh)})"
        for use in ahead[:3]
    ]
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}; the bank's course allows for it."


def _named(use: UsualUse) -> str:
    return HOT_WATER if use.label == HOT_WATER else f"a {use.label}"


def _time(hour: float) -> str:
    quarters = round(hour * 4.0)
    return f"{quarters // 4 % 24:02d}:{quarters % 4 * 15:02d}"


def state_sentences(view: OutlookView, clearness: float | None) -> list[str]:
    """Return what should be known of the ground the answer stands on."""
    out: list[str] = []
    state = view.charge
    if state.source is ChargeSource.COUNTED:
        out.append(
            f"The state of charge is counted, not measured: {charge(state.soc or 0.0)}, "
            f"give or take {round(state.doubt)} points."
        )
        if state.since_full_s is None:
            start = "Counting began with the bank's voltage"
            if voltage_soc_is_poor(view.boat.bank, state.soc or 0.0):
                start += ", which tells little of a lithium bank between 20 and 95 %"
            out.append(f"{start}; it is set right when the bank is next full.")
    if view.last is not None and turns_sun_away(view.boat, view.last):
        out.append("The bank is full and may be turning sun away now.")
    elif clearness is not None:
        out.append(f"The sun gives {percent(clearness)} of a clear sky's.")
    if view.bank_temperature_c is not None and view.bank_temperature_c < 0.0:
        if not view.boat.bank.chemistry.is_lead:
            out.append(
                f"The bank is at {view.bank_temperature_c:.0f} °C: charging below freezing "
                "is not counted as income."
            )
    if not view.has_sun:
        out.append("The boat has no array; everything comes from the bank.")
    return out
