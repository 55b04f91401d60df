"""Forecast sensors in a history, where a reading has neither unit nor attributes.

What a sensor is about is in its name, as for a live one. Whether its number is kWh or Wh
is plain from its size, since no array gives in a day more than its nameplate around the
clock.
"""

from math import isfinite
from typing import Final

from ..boat.boat import Boat
from ..metering.reading import Reading, number_of
from ..sky.forecast_reading import period_of_span, span_of_name
from .outlook import Outlook

_HOURS_PER_DAY: Final = 24.0


def forecast_sensor_ids(boat: Boat) -> tuple[str, ...]:
    """Return the sensors of the owner's forecast; services of the platform are none."""
    if boat.solar is None:
        return ()
    return tuple(name for name in boat.solar.forecast if "." in name)


def observe_forecast_reading(outlook: Outlook, reading: Reading) -> bool:
    """Give a reading of a forecast sensor to the outlook; return whether it was one.

    A value that is no number (unavailable, unknown) changes nothing: the last forecast
    stands. Neither does a sensor whose name does not tell which day it is about.
    """
    boat = outlook.boat
    if reading.entity_id not in forecast_sensor_ids(boat):
        return False
    span = span_of_name(reading.entity_id)
    try:
        value = number_of(reading.state)
    except ValueError:
        return True
    if span is not None and isfinite(value) and value >= 0.0:
        energy_wh = value * 1000.0 if value <= _most_kwh(boat) else value
        period = period_of_span(span, energy_wh, reading.at_s, boat.time_zone)
        outlook.observe_forecast(reading.at_s, [period])
    return True


def _most_kwh(boat: Boat) -> float:
    """Return what the array would give in a day of full power."""
    array_w = 0.0 if boat.solar is None else boat.solar.array_power_w
    return array_w * _HOURS_PER_DAY / 1000.0
