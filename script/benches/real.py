"""Real recordings as the bench reads them."""

from collections.abc import Sequence
import csv
from dataclasses import dataclass
from datetime import UTC, datetime
import gzip
import json
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.boat.boat_file import read_boat
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.reading import Reading
from script.benches.metrics import f1, grid_counts
from script.benches.recording import infer, with_minutes


@dataclass(frozen=True, slots=True)
class Recorded:
    """A real installation: its boat, what its meter said and what truly ran."""

    boat: Boat
    samples: list[LoadSample]
    start_s: float
    cells: int
    runs: list[tuple[str, float, float, float]]
    grid: dict[str, Sequence[float]]


def _seconds(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def _load(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def installation(folder: Path) -> Recorded:
    """Return the installation in a folder with a boat file, a history and a truth."""
    boat = read_boat(folder / "boat.yaml")
    with gzip.open(folder / "truth.json.gz", "rt") as file:
        truth: dict[str, Any] = json.load(file)
    assembler = LoadAssembler(boat)
    samples: list[LoadSample] = []
    with gzip.open(folder / "history.csv.gz", "rt") as file:
        for row in csv.DictReader(file):
            at_s = _seconds(row["last_changed"])
            samples += assembler.feed(Reading(row["entity_id"], row["state"], at_s))
    samples += assembler.finish()
    return Recorded(
        boat=boat,
        samples=list(with_minutes(samples)),
        start_s=_seconds(truth["start"]),
        cells=len(next(iter(truth["grid"].values()))),
        runs=[
            (r["appliance"], _seconds(r["start"]), _seconds(r["end"]), r["energy_wh"])
            for r in truth["runs"]
        ],
        grid=truth["grid"],
    )


HOUSE: Final = (
    # Name, kind, rated W (common values of such plates), on from so many W (thresholds in
    # common use: kettle 2000, microwave 200, dishwasher 10, washing machine 20 W).
    ("Kettle", catalogue.KETTLE, 2900.0, 2000.0),
    ("Microwave", catalogue.MICROWAVE, 1300.0, 200.0),
    ("Dishwasher", catalogue.OTHER, 2000.0, 1000.0),
    ("WashingMachine", catalogue.OTHER, 2150.0, 1000.0),
)
"""House 2 of UK-DALE (Kelly and Knottenbelt, Scientific Data 2:150007, 2015; CC BY 4.0)."""


def house(folder: Path, month: str) -> dict[str, float]:
    """Return F1 per minute of each sub-metered appliance in one month."""
    path = folder / f"UKDALE_House2_2013-{month}.csv.gz"
    with gzip.open(path, "rt") as file:
        rows = list(csv.DictReader(file))
    boat = Boat(
        name="House",
        latitude=51.5,
        longitude=0.0,
        time_zone=ZoneInfo("UTC"),
        sensors=Sensors(ac_load_power=Sensor("sensor.load")),
        bank=Bank(1000.0, 51.2, 20.0),
        appliances=tuple(Appliance(name, kind, w) for name, kind, w, _ in HOUSE),
    )
    times = [
        datetime.fromisoformat(row["Time"]).replace(tzinfo=UTC).timestamp()
        for row in rows
    ]
    samples = [
        LoadSample(at_s, _load(row["Aggregate"]))
        for at_s, row in zip(times, rows, strict=True)
    ]
    start_s = times[0]
    cells = int((times[-1] - start_s) / 10.0) + 6
    recording, _, _ = infer(boat, list(with_minutes(samples)), start_s, cells)
    scores: dict[str, float] = {}
    for name, _, _, on_w in HOUSE:
        truth = [_load(row[name]) or 0.0 for row in rows]
        series = recording.grid[name]
        said = []
        for at_s in times:
            first = int((at_s - start_s) / 10.0)
            said.append(sum(series[first : first + 6]) / 6.0)
        scores[name] = f1(*grid_counts(truth, said, on_w))
    return scores
