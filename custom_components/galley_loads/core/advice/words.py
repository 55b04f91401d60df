"""Numbers as the crew says them."""

from datetime import tzinfo
from typing import Final

from ..outlook.habits import boat_time

_MOST_TOLD: Final = 0.97


def duration(seconds: float) -> str:
    """Return a length of time in words, e.g. "40 min" or "3 h 20 min"."""
    minutes = max(round(seconds / 60.0), 0)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours >= 48:
        return f"{round(hours / 24)} days"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def clock(at_s: float, now_s: float, zone: tzinfo) -> str:
    """Return a time on the boat's clock; the day is named when it is another one."""
    moment, present = boat_time(at_s, zone), boat_time(now_s, zone)
    text = f"{moment:%H:%M}"
    days = (moment.date() - present.date()).days
    if days == 0:
        return text
    return f"{text} tomorrow" if days == 1 else f"{text} on {moment:%A}"


def percent(share: float) -> str:
    """Return a share from 0 to 1 as whole percent."""
    return f"{round(share * 100)} %"


def chance(share: float) -> str:
    """Return a chance; a few dozen possible futures make nothing certain."""
    if share > _MOST_TOLD:
        return f"over {percent(_MOST_TOLD)}"
    if share < 1.0 - _MOST_TOLD:
        return f"under {percent(1.0 - _MOST_TOLD)}"
    return percent(share)


def charge(soc: float) -> str:
    """Return a state of charge as whole percent."""
    return f"{round(soc)} %"


def ampere_hours(charge_ah: float) -> str:
    """Return a charge, with a decimal where it is small."""
    return f"{charge_ah:.1f} Ah" if charge_ah < 9.95 else f"{round(charge_ah)} Ah"


def energy(energy_wh: float) -> str:
    """Return an energy in Wh or kWh."""
    if energy_wh < 999.5:
        return f"{round(energy_wh)} Wh"
    return f"{energy_wh / 1000.0:.2f} kWh"
