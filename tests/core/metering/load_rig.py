"""A boat's meters on a bench: readings in, load samples out."""

from collections.abc import Iterable
from typing import Any

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.reading import Reading

type Row = tuple[str, float | str, float]
"""A sensor's name, its state, and the seconds since the start."""

START_S = 1_778_000_000.0

AC_METER = {"ac_load_power": "sensor.ac"}
SUN_AND_BANK = {
    "solar_power": "sensor.sun",
    "battery_power": "sensor.bank",
    "battery_soc": "sensor.soc",
}


def bench(sensors: dict[str, Any], **parts: Any) -> LoadAssembler:
    """Return the assembler of a boat with these sensors; its inverter gives 0.9."""
    return LoadAssembler(
        parse_boat(
            {
                "name": "Petrel",
                "latitude": 38.53,
                "longitude": -28.62,
                "time_zone": "Atlantic/Azores",
                "sensors": sensors,
                "bank": {
                    "capacity_ah": 420,
                    "nominal_voltage": 12.8,
                    "reserve_soc": 30,
                },
                "inverter": {"continuous_power": 2500, "efficiency": 0.9},
                **parts,
            }
        )
    )


def reading(row: Row) -> Reading:
    """Return one row as the platform would report it."""
    name, state, at_s = row
    domain = "switch" if name.startswith("relay") else "sensor"
    return Reading(f"{domain}.{name}", str(state), START_S + at_s)


def play(
    assembler: LoadAssembler, rows: Iterable[Row], until_s: float | None = None
) -> list[LoadSample]:
    """Feed rows, then let time pass until `until_s`; return the samples."""
    samples: list[LoadSample] = []
    for row in rows:
        samples += assembler.feed(reading(row))
    if until_s is not None:
        samples += assembler.advance(START_S + until_s)
    return samples


def loads(samples: Iterable[LoadSample]) -> list[tuple[float, float | None]]:
    """Return (seconds since the start, load in W to a tenth) of each sample."""
    return [
        (
            round(sample.at_s - START_S, 3),
            None if sample.load_w is None else round(sample.load_w, 1),
        )
        for sample in samples
    ]


def load_at(samples: Iterable[LoadSample], at_s: float) -> float | None:
    """Return the load that holds at a moment."""
    load_w = None
    for sample in samples:
        if sample.at_s - START_S <= at_s:
            load_w = sample.load_w
    return load_w
