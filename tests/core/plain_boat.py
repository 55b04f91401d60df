"""The plainest boat there is: one meter of the AC load, and a bank."""

from typing import Any

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.reading import Reading

LOAD = "sensor.ac"
START_S = 1778484600.0
"""2026-05-11 07:30 UTC."""


def plain_boat(**parts: Any) -> Boat:
    """Return the boat; `parts` are added to its file, or take the place of what is there."""
    plain = {
        "name": "Petrel",
        "latitude": 38.53,
        "longitude": -28.62,
        "time_zone": "UTC",
        "sensors": {"ac_load_power": LOAD},
        "bank": {"capacity_ah": 420, "nominal_voltage": 12.8, "reserve_soc": 30},
    }
    return parse_boat({**plain, **parts})


def at_rest(count: int) -> list[Reading]:
    """Return what its meter says every five seconds while nobody cooks."""
    return [Reading(LOAD, str(90 + n % 2), START_S + 5 * n) for n in range(count)]
