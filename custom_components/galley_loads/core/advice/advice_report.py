"""An answer as plain data: what `script/advise` writes and the platform's actions return."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from .answer import Advice, ForecastStep
from .left_to_cook import LeftToCook
from .starts import Start
from .verdict import LEAST_CHANCE


def iso(at_s: float | None) -> str | None:
    """Return a Unix time as ISO text in UTC, None for None."""
    if at_s is None:
        return None
    return datetime.fromtimestamp(round(at_s), UTC).isoformat()


def _rounded(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(value, digits)


def advice_to_mapping(advice: Advice, reasons: Sequence[str]) -> dict[str, Any]:
    """Return an answer fit for JSON: energies Wh on the AC side, charges percent, times UTC.

    `reasons` are the answer's as sentences, in the reader's language.
    """
    cost = advice.cost
    return {
        "verdict": advice.verdict.value,
        "at": iso(advice.at_s),
        "dish": advice.dish,
        "start": iso(advice.start_s),
        "confidence": round(advice.confidence, 3),
        "dish_wh": _rounded(None if cost is None else cost.energy_wh),
        "dish_ah": _rounded(advice.dish_ah),
        "peak_w": _rounded(None if cost is None else cost.peak_w, 1),
        "minutes": _rounded(None if cost is None else cost.minutes, 1),
        "soc_now": _rounded(advice.soc_now),
        "above_reserve_wh": _rounded(advice.above_reserve_wh),
        "soc_lowest": _rounded(advice.soc_lowest),
        "soc_lowest_p10": _rounded(advice.soc_lowest_p10),
        "lowest_at": iso(advice.lowest_at_s),
        "full_at": iso(advice.full_at_s),
        "drawn_ah": _rounded(advice.drawn_ah),
        "from_sun_wh": _rounded(advice.from_sun_wh),
        "soc_at_sunrise": _rounded(advice.soc_at_sunrise),
        "sunrise": iso(advice.sunrise_s),
        "clear_sky_index": _rounded(advice.clear_sky_index, 3),
        "now_is_safe": None
        if not advice.starts
        else advice.starts[0].chance_above_reserve >= LEAST_CHANCE,
        "gain_wh": _rounded(advice.gain_wh),
        "chance_without": _rounded(advice.chance_without, 3),
        "chance_caused": _rounded(advice.chance_caused, 3),
        "chance_without_engine": _rounded(advice.chance_without_engine, 3),
        **_left(advice.left),
        "starts": [_start(start) for start in advice.starts],
        "forecast": [_step(step) for step in advice.forecast],
        "reasons": list(reasons),
    }


def _left(left: LeftToCook | None) -> dict[str, Any]:
    """Return what may still be cooked; nine in ten, one in two and one in ten allow it."""
    return {
        "left_ah": None if left is None else round(left.ah, 2),
        "left_wh": None if left is None else round(left.wh, 1),
        "left_wh_p50": None if left is None else round(left.wh_middle, 1),
        "left_wh_p90": None if left is None else round(left.wh_high, 1),
        "left_until": None if left is None else iso(left.until_s),
    }


def _start(start: Start) -> dict[str, Any]:
    return {
        "start": iso(start.at_s),
        "drawn_ah": _rounded(start.drawn_ah),
        "soc_lowest": _rounded(start.soc_lowest),
        "soc_lowest_p10": _rounded(start.soc_lowest_p10),
        "soc_lowest_p90": _rounded(start.soc_lowest_p90),
        "chance_above_reserve": round(start.chance_above_reserve, 3),
        "from_sun_wh": _rounded(start.from_sun_wh),
        "turned_away_wh": _rounded(start.refused_wh),
    }


def _step(step: ForecastStep) -> dict[str, Any]:
    return {
        "time": iso(step.at_s),
        "solar_w": _rounded(step.solar_w, 1),
        "solar_w_p10": _rounded(step.solar_w_p10, 1),
        "solar_w_p90": _rounded(step.solar_w_p90, 1),
        "background_w": _rounded(step.background_w, 1),
        "soc": _rounded(step.soc, 1),
        "soc_p10": _rounded(step.soc_p10, 1),
        "soc_p90": _rounded(step.soc_p90, 1),
    }
