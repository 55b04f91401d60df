"""A second look at whole runs before they are settled.

A run is told as it grows; only when it is over can it be held against what its kind does.
What no run of its kind is like was something else, and nobody named that.
"""

from collections.abc import Container, Mapping
from typing import Final, NamedTuple

from ..model.state_machine import StateMachine
from .run_shape import RunShape

LEAST_SHARE: Final = 0.3
LATEST_HEAT_S: Final = 900.0
"""A run that goes on and has heated nothing for this long is not waited for."""
STILL_SHARE: Final = 0.88
"""Of its time at one level, from which on nobody seems to have touched a run's knob."""
STILL_BELOW: Final = 0.9
"""Below this share of the full power a knob was set: what is at full power may just be on."""
STILL_S: Final = 900.0
"""Nobody leaves a hob alone for longer than this, touching neither knob nor pan."""
UNTOUCHED_FROM: Final = 0.35
"""From this share of a plate's power on: below it a pot may simmer by itself."""
COMPANY_S: Final = 300.0
"""What is cooked with something else begins or ends this close to it."""


class Past(NamedTuple):
    """What was settled before the stretch of past that is judged.

    Attributes:
        begun: the runs of which a part is settled.
        rejected: those of them that were nobody's.
        last_end_s: when the last run ended that was somebody's, Unix time.
    """

    begun: Container[tuple[int, float]]
    rejected: Container[tuple[int, float]]
    last_end_s: float


def implausible_runs(
    machines: tuple[StateMachine, ...],
    full_w: tuple[float, ...],
    shapes: Mapping[tuple[int, float], RunShape],
    running: Container[tuple[int, float]],
    past: Past,
    *,
    live: bool,
) -> frozenset[tuple[int, float]]:
    """Return the runs within a stretch of past that cannot have been their appliance's.

    `full_w` is what each appliance is known to draw at full power. Every kind heats
    something: a pump's strokes are no kneading. Each kind has a length that none of its
    runs falls short of, and a kind that begins at its full power stays there for a while: a
    run with less than 30 % of the shortest usual dwell is none. Where somebody stands and
    turns a knob, a run at one middle level from its start to its end was nobody's, if it
    was long or nothing else was cooked within five minutes of it.

    Of runs that go on (`running`) or of which a part is settled most is not known yet, so
    they stay; unless it is for settling (not `live`) and they were cold or still for long.
    What was rejected of a run already stays rejected until it is neither.
    """

    def is_due(key: tuple[int, float], patience_s: float) -> bool:
        if key in past.rejected:
            return True
        if key in past.begun:
            return False
        return key not in running or (not live and shapes[key].whole_s > patience_s)

    found: set[tuple[int, float]] = set()
    still: set[tuple[int, float]] = set()
    for key, shape in shapes.items():
        machine = machines[key[0]]
        if shape.is_cold:
            if is_due(key, LATEST_HEAT_S):
                found.add(key)
        elif (
            key not in running
            and key not in past.begun
            and _is_scant(machine, full_w[key[0]], shape)
        ):
            found.add(key)
        elif was_left(machine, full_w[key[0]], shape):
            # A hob that somebody forgot is told as long as it is on.
            if is_due(key, STILL_S) and not (live and key in running):
                still.add(key)
    others = [shape for key, shape in shapes.items() if key not in found | still]
    for key in still:
        shape = shapes[key]
        alone = shape.start_s - past.last_end_s > COMPANY_S and all(
            shape.apart_s(other) > COMPANY_S for other in others
        )
        if alone or shape.whole_s > STILL_S or key in past.rejected:
            found.add(key)
    return frozenset(found)


def _is_scant(machine: StateMachine, full_w: float, shape: RunShape) -> bool:
    """Return whether a whole run is too little for its kind."""
    return (
        shape.whole_s < machine.least_run_s
        or shape.full_s < LEAST_SHARE * machine.least_full_s
        or shape.heat_ws < machine.least_heat_s * full_w
    )


def was_left(machine: StateMachine, full_w: float, shape: RunShape) -> bool:
    """Return whether a run was left alone as no run of its kind is.

    `full_w` is what the appliance is known to draw at full power, W. At one power for so
    long that toast would burn and a pan boil dry; or, where somebody stands and turns a
    knob, at one middle level from its start to its end.
    """
    least_w = UNTOUCHED_FROM * machine.zone_share * full_w
    if shape.untouched_s(least_w) > machine.untouched_s:
        return True
    if machine.unrest_per_s == 0.0 or shape.paused:
        return False
    level_w, share = shape.one_level()
    return share > STILL_SHARE and level_w < STILL_BELOW * full_w
