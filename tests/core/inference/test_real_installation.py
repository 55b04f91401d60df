"""Half a day of a real installation: the stated score is kept.

The traces are real (tracebase; see tests/data/real_bench/README.md), so the truth is the
devices' own meters and nothing of ours.
"""

from pathlib import Path

import pytest

from script.benches.metrics import estimated_accuracy, f1, pooled_f1, running_time
from script.benches.real import Recorded, installation
from script.benches.recording import Recording, infer

RUNNING_TIME = 0.80
ENERGY = 0.70
FOLDER = Path(__file__).parents[2] / "data" / "real_bench"


@pytest.fixture(scope="module")
def recorded() -> Recorded:
    return installation(FOLDER)


@pytest.fixture(scope="module")
def reported(recorded: Recorded) -> Recording:
    recording, _, _ = infer(
        recorded.boat, recorded.samples, recorded.start_s, recorded.cells
    )
    return recording


def _counts(
    recorded: Recorded, reported: Recording
) -> dict[str, tuple[float, float, float]]:
    truth: dict[str, list[tuple[float, float]]] = {name: [] for name in reported.grid}
    for name, start, end, _ in recorded.runs:
        truth[name].append((start, end))
    return running_time(truth, reported.spans())


def test_the_running_time_of_a_real_installation_is_found(recorded, reported):
    assert pooled_f1(_counts(recorded, reported).values()) >= RUNNING_TIME


def test_every_boil_of_a_real_kettle_is_found(recorded, reported):
    assert f1(*_counts(recorded, reported)["Kettle"]) >= 0.93


def test_a_real_coffee_maker_keeps_its_pot_warm(recorded, reported):
    assert f1(*_counts(recorded, reported)["Coffee maker"]) >= 0.9


def test_the_energy_of_a_real_installation_goes_where_it_went(recorded, reported):
    assert estimated_accuracy(recorded.grid, reported.grid) >= ENERGY
