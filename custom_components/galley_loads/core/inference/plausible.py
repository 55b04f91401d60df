"""A second look at whole runs before they are settled.

A run is told as it grows; only when it is over can it be held against what its kind does.
What was far too short for its kind was something else, and nobody named that.
"""

from collections.abc import Container
from typing import Final

from .explanation import UNNAMED, Moment
from .machine import Machine

LEAST_SHARE: Final = 0.3
LATEST_HEAT_S: Final = 900.0
"""A run that goes on and has heated nothing for this long is not waited for."""


def implausible_runs(
    machines: tuple[Machine, ...],
    path: list[Moment],
    running: Container[tuple[int, float]],
    before: Container[tuple[int, float]],
    rejected: Container[tuple[int, float]],
    latest_heat_s: float = LATEST_HEAT_S,
) -> frozenset[tuple[int, float]]:
    """Return the runs within a stretch of past that cannot have been their appliance's.

    Every kind heats something: a pump's strokes are no kneading. Each kind has a length
    that none of its runs falls short of, and a kind that begins at its full power stays
    there for a while: a run with less than 30 % of the shortest usual stay is none. Of
    runs that go on (`running`) or of which a part is settled (`before`) neither is known
    yet, so they stay; but what was rejected of a run already (`rejected`) stays rejected
    until it heats.
    """
    seconds: dict[tuple[int, float], list[float]] = {}
    for moment in path:
        span = moment.end_s - moment.start_s
        for part in moment.parts:
            if part.index == UNNAMED:
                continue
            total = seconds.setdefault((part.index, part.run_start_s), [0.0, 0.0, 0.0])
            draw = machines[part.index].states[part.state].draw
            total[0] += span
            if draw == "full":
                total[1] += span
            elif draw == "level":
                total[2] += span
    found: set[tuple[int, float]] = set()
    for key, (whole_s, full_s, level_s) in seconds.items():
        cold = full_s + level_s == 0.0
        if key in rejected and cold:
            found.add(key)
        if key in before:
            continue
        machine = machines[key[0]]
        if key in running:
            if cold and whole_s > latest_heat_s:
                found.add(key)
        elif (
            cold
            or whole_s < machine.least_run_s
            or full_s < LEAST_SHARE * machine.least_full_s
        ):
            found.add(key)
    return frozenset(found)
