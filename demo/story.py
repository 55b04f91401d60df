"""Sandpiper's story: seven days that were, a present in which somebody cooks, what comes.

The story is simulated once, at start, from the present of the real clock; its past goes
into the recorder and the rest is played in real time.
"""

from array import array
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final

from .sandpiper import BOAT, OPTIONS
from .simulator import PlannedRun, Simulation, Task, simulate
from .simulator.meters import Row

PAST_DAYS: Final = 7
COMING_DAYS: Final = 2
SEED: Final = 13

GRID_S: Final = 10.0


STEW: Final = Task(litres=1.1, minutes=32, way="stew", level=0.45)


def present_runs(now_s: float) -> list[PlannedRun]:
    """Return what is being cooked now, and what the cook turns to next."""
    minute = 60.0
    return [
        PlannedRun("Water bath", now_s - 52 * minute, Task(celsius=56, minutes=95)),
        PlannedRun("Hob", now_s - 11 * minute, STEW),
        PlannedRun("Toaster", now_s + 3 * minute, Task(minutes=2.5)),
        PlannedRun("Kettle", now_s + 24 * minute, Task(litres=0.9)),
    ]


@dataclass(frozen=True, slots=True)
class Story:
    """A simulation with a present in it, Unix seconds."""

    simulation: Simulation
    now_s: float

    def split(self) -> tuple[list[Row], list[Row]]:
        """Return the rows that were and the rows that come."""
        past: list[Row] = []
        coming: list[Row] = []
        for row in self.simulation.rows():
            (past if row[2] <= self.now_s else coming).append(row)
        return past, coming

    def circuit_power(self, circuit: str) -> array[float]:
        """Return a circuit's mean W per ten seconds from now on, for whoever opens it."""
        loads = [
            self.simulation.power[appliance.name]
            for appliance in BOAT.appliances
            if appliance.circuit == circuit
        ]
        result = array("f")
        at_s = self.now_s
        while at_s < self.simulation.truth.end_s:
            result.append(sum(load.mean(at_s, at_s + GRID_S) for load in loads))
            at_s += GRID_S
        return result


def tell(now_s: float) -> Story:
    """Simulate the story around the present."""
    start_s = now_s - PAST_DAYS * 86400
    start = datetime.fromtimestamp(start_s - start_s % GRID_S, UTC)
    options = replace(OPTIONS, start=start.isoformat(), days=PAST_DAYS + COMING_DAYS)
    simulation = simulate(
        BOAT,
        SEED,
        options,
        planned=present_runs(now_s),
        away=[(now_s - 3 * 3600, now_s + 75 * 60)],
    )
    return Story(simulation, now_s)
