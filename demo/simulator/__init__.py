"""A boat simulated by physics and habits, with meters that are not kind.

    options = SimOptions(days=5)
    boat = random_boat(3, options)
    result = simulate(boat, 3, options)
    for entity_id, state, at_s in result.rows(): ...
    result.truth.runs, result.truth.meals, result.truth.grid["Hob"]

The same seed and options give the same boat, the same rows and the same truth.
"""

from .boat import SimBoat, random_boat
from .day import PlannedRun
from .options import SimOptions
from .simulation import Simulation, simulate
from .task import Task
from .truth import TrueMeal, TrueRun, Truth

__all__ = [
    "PlannedRun",
    "SimBoat",
    "SimOptions",
    "Simulation",
    "Task",
    "TrueMeal",
    "TrueRun",
    "Truth",
    "random_boat",
    "simulate",
]
