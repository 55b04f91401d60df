"""Forecast sensors that the owner names: the sun's energy of today, tomorrow, and so on.

The boat file lists them in the order of the days. Each tells one number, the energy of a
whole day in kWh or Wh; which of the two is plain from its size, since no array gives in a
day more than its nameplate around the clock.
"""

from datetime import datetime, timedelta
from math import isfinite
from typing import Final

from .boat import Boat
from .habits import boat_time
from .outlook import Outlook
from .readings import Reading
from .solar_forecast import ForecastPeriod

_HOURS_PER_DAY: Final = 24.0


def forecast_sensor_ids(boat: Boat) -> tuple[str, ...]:
    """Return the forecast's sensors in the order of the days they tell of."""
    if boat.solar is None:
        return ()
    return tuple(name for name in boat.solar.forecast if "." in name)


def observe_forecast_reading(outlook: Outlook, reading: Reading) -> bool:
    """Give a reading of a forecast sensor to the outlook; return whether it was one.

    A value that is no number (unavailable, unknown) changes nothing: the last forecast
    stands.
    """
    boat = outlook.boat
    names = forecast_sensor_ids(boat)
    if reading.entity_id not in names:
        return False
    try:
        value = float(reading.state)
    except ValueError:
        return True
    if isfinite(value) and value >= 0.0:
        period = _day(boat, reading.at_s, names.index(reading.entity_id), value)
        outlook.observe_forecast(reading.at_s, [period])
    return True


def _day(boat: Boat, at_s: float, ahead: int, value: float) -> ForecastPeriod:
    date = boat_time(at_s, boat.time_zone).date() + timedelta(days=ahead)
    midnight = datetime.min.time()
    start = datetime.combine(date, midnight, boat.time_zone)
    end = datetime.combine(date + timedelta(days=1), midnight, boat.time_zone)
    array_w = 0.0 if boat.solar is None else boat.solar.array_power_w
    most_kwh = array_w * _HOURS_PER_DAY / 1000.0
    energy_wh = value * 1000.0 if value <= most_kwh else value
    return ForecastPeriod(start.timestamp(), end.timestamp(), energy_wh)
