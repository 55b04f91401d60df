"""A second look at whole runs before they are settled.

A run is told as it grows; only when it is over can it be held against what its kind does.
What was far too short for its kind was something else, and nobody named that.
"""

from collections.abc import Container
from typing import Final

from .explanation import UNNAMED, Moment
from .machine import Machine

LEAST_SHARE: Final = 0.3


def implausible_runs(
    machines: tuple[Machine, ...],
    path: list[Moment],
    running: Container[tuple[int, float]],
    before: Container[tuple[int, float]],
) -> frozenset[tuple[int, float]]:
    """Return the runs within a stretch of past that cannot have been their appliance's.

    Each kind has a length that none of its runs falls short of. Runs that go on (`running`) and runs of which a part is settled (`before`) stay. A kind
    that begins at its full power stays there for a while: a run with less than 30 % of
    the shortest usual stay is none.
    """
    seconds: dict[tuple[int, float], list[float]] = {}
    for moment in path:
        span = moment.end_s - moment.start_s
        for part in moment.parts:
            if part.index == UNNAMED:
                continue
            total = seconds.setdefault((part.index, part.run_start_s), [0.0, 0.0])
            total[0] += span
            if machines[part.index].states[part.state].draw == "full":
                total[1] += span
    return frozenset(
        key
        for key, (whole_s, full_s) in seconds.items()
        if key not in running
        and key not in before
        and (
            whole_s < machines[key[0]].least_run_s
            or full_s < LEAST_SHARE * machines[key[0]].least_full_s
        )
    )
