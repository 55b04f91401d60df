"""Readings for the engine, and what it says of them."""

from custom_components.galley_loads.core.events import Event, MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading

AT = 1_778_000_000.0


def told(events: list[Event]) -> list[Event]:
    """Return the runs and meals among events."""
    return [e for e in events if isinstance(e, (RunSettled, MealSettled))]


def readings_of(*rows: tuple[str, float, float]) -> list[Reading]:
    """Return readings from entity, value and time after `AT`, s."""
    return [Reading(entity, str(value), AT + at_s) for entity, value, at_s in rows]
