"""Whether the readings can carry an answer, and if not, which are missing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..bank.charge_state import ChargeSource
from ..boat.boat import Sensor, Sensors
from ..boat.sensor_role import Role, called_with_id
from ..metering.quarter_hours import QUARTER_S
from ..outlook.outlook_view import OutlookView
from ..phrase import Phrase, phrase
from ..sky.sky_history import QUARTERS_PER_DAY, UNKNOWN

STALE_S: Final = 3600.0
SUN_MISSING_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Freshness:
    """`missing` stops an answer; `notes` are only to be said with it."""

    missing: tuple[Phrase, ...]
    notes: tuple[Phrase, ...]


def check_freshness(
    view: OutlookView,
    at_s: float,
    said: Sequence[Phrase] = (),
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
        return Freshness((phrase("missing.readings"),), ())
    age_s = at_s - min(last.at_s, newest_reading_s or last.at_s)
    if age_s > STALE_S:
        return Freshness((phrase("missing.old", age_s=age_s),), tuple(said))
    missing: list[Phrase] = []
    if view.charge.source is ChargeSource.UNKNOWN:
        missing.append(_no_charge(view))
    sees_demand = boat.sensors.has_battery_power
    bank_known = last.battery_w is not None or last.battery_a is not None
    if last.load_w is None and not (sees_demand and bank_known):
        missing.append(_no_load(boat.sensors))
    notes: list[Phrase] = []
    if boat.sensors.solar_power and last.solar_w is None:
        meters = boat.sensors.solar_power
        if _sun_seen_within(view, at_s):
            notes.append(_no_sun(meters))
        else:
            missing.append(_no_sun_for_a_day(meters))
    if missing:
        missing.extend(said)
    return Freshness(tuple(missing), tuple(notes))


def _no_charge(view: OutlookView) -> Phrase:
    sensors = view.boat.sensors
    if sensors.battery_soc is not None:
        gauge = called_with_id(Role.SOC, sensors.battery_soc.entity_id)
        return phrase("missing.charge", gauge=gauge)
    if sensors.battery_voltage is None:
        return phrase("missing.charge_and_voltage")
    meter = called_with_id(Role.BATTERY_VOLTAGE, sensors.battery_voltage.entity_id)
    return phrase("missing.voltage", meter=meter)


def _no_load(sensors: Sensors) -> Phrase:
    for role, sensor in (
        (Role.AC_LOAD, sensors.ac_load_power),
        (Role.DC_LOAD, sensors.dc_load_power),
    ):
        if sensor is not None:
            meter = called_with_id(role, sensor.entity_id)
            return phrase("missing.load_meter", meter=meter)
    return phrase("missing.load")


def _no_sun(meters: Sequence[Sensor]) -> Phrase:
    if len(meters) == 1:
        meter = called_with_id(Role.SOLAR, meters[0].entity_id)
        return phrase("missing.sun", meter=meter)
    return phrase("missing.sun_all", entity_ids=_ids(meters))


def _no_sun_for_a_day(meters: Sequence[Sensor]) -> Phrase:
    if len(meters) == 1:
        meter = called_with_id(Role.SOLAR, meters[0].entity_id)
        return phrase("missing.sun_for_a_day", meter=meter)
    return phrase("missing.sun_all_for_a_day", entity_ids=_ids(meters))


def _ids(meters: Sequence[Sensor]) -> tuple[str, ...]:
    return tuple(meter.entity_id for meter in meters)


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
