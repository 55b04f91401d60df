"""An answer from a history: everything up to a moment is learnt, then the question is asked."""

from collections.abc import Iterable

from ..advice import Advice, DishRequest, advise
from ..boat.boat import Boat
from ..engine import Engine
from ..metering.reading import Reading
from ..metering.source import entity_ids_of
from ..outlook.forecast_sensors import forecast_sensor_ids, observe_forecast_reading


def ask_history(
    boat: Boat, readings: Iterable[Reading], at_s: float, request: DishRequest
) -> Advice:
    """Return the advice that the boat would have been given at a time.

    Args:
        boat: the boat.
        readings: its history in order of time; what is later than `at_s` is not read.
        at_s: the time of the question, Unix time.
        request: what is asked.
    """
    engine = Engine(boat)
    meters, forecast = entity_ids_of(boat), frozenset(forecast_sensor_ids(boat))
    newest_s: float | None = None
    for reading in readings:
        if reading.at_s > at_s:
            break
        if reading.entity_id in forecast:
            observe_forecast_reading(engine.outlook(), reading)
            # Whoever names a meter as a forecast has a meter all the same.
            if reading.entity_id not in meters:
                continue
        newest_s = reading.at_s
        engine.feed(reading)
    engine.advance(at_s)
    live = engine.live()
    meal = None if live is None else live.current_meal
    return advise(
        engine.outlook().view(),
        request,
        at_s,
        said=() if live is None else live.complaints,
        newest_reading_s=newest_s,
        cooking_now=None if meal is None else meal.label,
    )
