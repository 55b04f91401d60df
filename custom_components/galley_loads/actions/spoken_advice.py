"""Advice in a sentence or two, as somebody says it across the galley."""

from typing import Any
from zoneinfo import ZoneInfo

from homeassistant.util import dt as dt_util

from ..core.advice import Verdict


def spoken(answer: dict[str, Any], zone: ZoneInfo) -> str:
    """Return an answer of `advise` as it is spoken: the verdict and its first reason."""
    dish = answer["dish"]
    match Verdict(answer["verdict"]):
        case Verdict.COOK_NOW:
            said = f"Yes, {dish} can start now."
        case Verdict.WAIT:
            start = dt_util.parse_datetime(answer["start"] or "")
            when = "" if start is None else f" until {start.astimezone(zone):%H:%M}"
            said = f"Better wait with {dish}{when}."
        case Verdict.HOLD_OFF:
            said = f"Better hold off with {dish}."
        case Verdict.UNKNOWN:
            said = f"I cannot tell about {dish}."
    reasons = answer["reasons"]
    return f"{said} {reasons[0]}" if reasons else said
