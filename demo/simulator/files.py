"""A simulation as files: boat.yaml, history.csv.gz and truth.json.gz."""

import csv
from datetime import UTC, datetime
import gzip
import json
from pathlib import Path
from typing import Any

import yaml

from .simulation import Simulation
from .truth import Truth


def iso(at_s: float) -> str:
    """Return a Unix time as the platform's history export writes it."""
    moment = datetime.fromtimestamp(round(at_s, 3), UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def truth_document(truth: Truth) -> dict[str, Any]:
    """Return the truth as plain data: times in ISO, energies in Wh, the grid in whole W."""
    return {
        "seconds": round(truth.end_s - truth.start_s),
        "start": iso(truth.start_s),
        "runs": [
            {
                "appliance": run.appliance,
                "start": iso(run.start_s),
                "end": iso(run.end_s),
                "energy_wh": run.energy_wh,
            }
            for run in truth.runs
        ],
        "meals": [
            {
                "start": iso(meal.start_s),
                "end": iso(meal.end_s),
                "appliances": sorted(meal.appliances),
                "energy_wh": meal.energy_wh,
            }
            for meal in truth.meals
        ],
        "appliance_wh": truth.appliance_wh,
        "standby_wh": truth.standby_wh,
        "standby_w": truth.standby_w,
        "background_wh": truth.background_wh,
        "unnamed_wh": truth.unnamed_wh,
        "conversion_wh": truth.conversion_wh,
        "load_wh": truth.load_wh,
        "grid": {name: [round(w) for w in row] for name, row in truth.grid.items()},
        "soc": [round(value, 2) for value in truth.soc],
        "solar_w": [round(value, 1) for value in truth.solar_w],
    }


def write(simulation: Simulation, folder: Path) -> int:
    """Write the three files; return the number of rows in the history."""
    folder.mkdir(parents=True, exist_ok=True)
    description = yaml.safe_dump(
        simulation.boat.description, sort_keys=False, allow_unicode=True
    )
    (folder / "boat.yaml").write_text(description, encoding="utf-8")
    count = 0
    with gzip.open(
        folder / "history.csv.gz", "wt", encoding="utf-8", newline=""
    ) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(("entity_id", "state", "last_changed"))
        for entity_id, state, at_s in simulation.rows():
            table.writerow((entity_id, state, iso(at_s)))
            count += 1
    with gzip.open(folder / "truth.json.gz", "wt", encoding="utf-8") as file:
        json.dump(truth_document(simulation.truth), file)
    return count
