"""Whether the readings can carry an answer, and if not, which are missing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..charge_state import ChargeSource
from ..outlook_view import OutlookView
from ..quarters import QUARTER_S
from ..sky_history import QUARTERS_PER_DAY, UNKNOWN
from .words import duration

STALE_S: Final = 3600.0
SUN_MISSING_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Freshness:
    """`missing` stops an answer; `notes` are only to be said with it."""

    missing: tuple[str, ...]
    notes: tuple[str, ...]


def check_freshness(
    view: OutlookView,
    at_s: float,
    said: Sequence[str] = (),
    newest_reading_s: float | None = None,
) -> Freshness:
    """Return what is missing at a time.

    Args:
        view: what is known.
        at_s: the present.
        said: what the load's assembly already says about silent sensors.
        newest_reading_s: when a sensor last reported, None where that is not known.
    """
    boat, last = view.boat, view.last
    if last is None:
        return Freshness(("There are no readings yet.",), ())
    age_s = at_s - min(last.at_s, newest_reading_s or last.at_s)
    if age_s > STALE_S:
        return Freshness(
            (f"The newest reading is {duration(age_s)} old.",), tuple(said)
        )
    missing: list[str] = []
    if view.charge.source is ChargeSource.UNKNOWN:
        missing.append(_no_charge(view))
    sees_demand = boat.sensors.has_battery_power
    bank_known = last.battery_w is not None or last.battery_a is not None
    if last.load_w is None and not (sees_demand and bank_known):
        missing.append("The boat's load is not known now.")
    notes: list[str] = []
    if boat.sensors.solar_power and last.solar_w is None:
        names = ", ".join(sensor.entity_id for sensor in boat.sensors.solar_power)
        text = f"The sun's power ({names}) is not known now"
        if _sun_seen_within(view, at_s):
            notes.append(f"{text}; the array's past stands in.")
        else:
            missing.append(f"{text} and was not for a day.")
    if missing:
        missing.extend(said)
    return Freshness(tuple(missing), tuple(notes))


def _no_charge(view: OutlookView) -> str:
    sensors = view.boat.sensors
    if sensors.battery_soc is not None:
        name = sensors.battery_soc.entity_id
        return f"The bank's state of charge ({name}) is not known now."
    if sensors.battery_voltage is None:
        return (
            "The boat has no state-of-charge sensor, and without a bank voltage there is "
            "nothing to start counting from."
        )
    name = sensors.battery_voltage.entity_id
    return f"The state of charge is counted, but no bank voltage ({name}) has come yet."


def _sun_seen_within(view: OutlookView, at_s: float) -> bool:
    """Return whether the sun's power was measured in the last day, or there was no sun."""
    since = (at_s - SUN_MISSING_S) / QUARTER_S
    recent = [
        (ratio, cell)
        for day in view.sky.days[-3:]
        for place, (ratio, cell) in enumerate(zip(day.ratio, day.cell, strict=True))
        if day.day * QUARTERS_PER_DAY + place >= since
    ]
    if all(cell == UNKNOWN for _, cell in recent):
        return True
    return any(ratio != UNKNOWN for ratio, _ in recent)
