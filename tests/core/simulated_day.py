"""A simulated day of one galley: its history, the report on it, and a file of it."""

from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.replay.replay import Report, iso_time, replay
from demo.simulator import SimOptions, random_boat, simulate


@cache
def history() -> tuple[Boat, tuple[Reading, ...], dict[str, Any]]:
    """Return a simulated day (invented) of hob, kettle and water heater."""
    options = SimOptions(
        days=1,
        kinds=("induction_hob", "kettle", "water_heater"),
        period_s=5,
        start="2026-05-11T00:00:00+00:00",
        dropouts_per_day=4,
    )
    boat = random_boat(5, options)
    rows = simulate(boat, 5, options).rows()
    readings = tuple(
        # To the millisecond, as a file of history holds them.
        Reading(
            entity_id, state, datetime.fromisoformat(str(iso_time(at_s))).timestamp()
        )
        for entity_id, state, at_s in rows
    )
    return parse_boat(boat.description), readings, boat.description


@cache
def report() -> Report:
    """Return what replay says of that day."""
    boat, readings, _ = history()
    return replay(boat, readings)


def write_history(path: Path, readings: tuple[Reading, ...]) -> Path:
    """Write readings as a file of history; return its path."""
    rows = (f"{r.entity_id},{r.state},{iso_time(r.at_s)}\n" for r in readings)
    path.write_text("entity_id,state,last_changed\n" + "".join(rows))
    return path
