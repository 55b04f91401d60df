"""One change of one load: what it is, and what it makes of the load."""

from typing import Final, NamedTuple

from ..learning.known_levels import KnownLevels
from ..model.hypothesis import UNNAMED

GO: Final = 0
"""Definition: a running load goes on with another state."""
END: Final = 1
"""Definition: a run ends."""
START: Final = 2
"""Definition: a run starts."""
RESTART: Final = 3
"""Definition: a run that had ended unseen is followed by another of the same
appliance."""
UNNAMED_ON: Final = 4
"""Definition: a load that nobody named starts."""
BASE_LOAD: Final = 5
"""Definition: the base load steps."""
ALL_OFF: Final = 6
"""Definition: all runs end at once."""
SLIDE: Final = 7
"""Definition: a draw that slides is a step lower."""


class Change(NamedTuple):
    """One change of one load that would make a step.

    With `spread_w` > 0 the step is `step_w` with that standard deviation, otherwise it is
    anything between `low_w` and `high_w`, the cost of the width included. `partial` says
    that the pulse was too short for the meter to show its height. `levels` are those that
    the appliance was seen at, `from_w` is what it draws before.
    """

    cost: float
    step_w: float
    spread_w: float
    low_w: float
    high_w: float
    what: int
    load: int
    who: int
    state: int
    partial: bool = False
    levels: KnownLevels | None = None
    from_w: float = 0.0


_new: Final = tuple.__new__
"""Changes are made by the thousand; this is half the time of the class's own call."""


def predicted_change(
    *,
    cost: float,
    step_w: float,
    spread_w: float,
    what: int,
    load: int,
    who: int,
    state: int,
) -> Change:
    """Return a change whose step is foreseen, with its standard deviation, W."""
    return _new(
        Change,
        (cost, step_w, spread_w, 0.0, 0.0, what, load, who, state, False, None, 0.0),
    )


def free_change(
    *,
    cost: float,
    low_w: float,
    high_w: float,
    what: int,
    load: int,
    who: int,
    state: int,
    step_w: float = 0.0,
    partial: bool = False,
    levels: KnownLevels | None = None,
    from_w: float = 0.0,
) -> Change:
    """Return a change whose step is anything between two powers, W."""
    return _new(
        Change,
        (
            cost,
            step_w,
            0.0,
            low_w,
            high_w,
            what,
            load,
            who,
            state,
            partial,
            levels,
            from_w,
        ),
    )


def base_load_change(
    cost: float, step_w: float, *, what: int = BASE_LOAD, burst: int = -1
) -> Change:
    """Return a step of the base load, made by one of the small loads seen lately."""
    return free_change(
        cost=cost,
        step_w=step_w,
        low_w=step_w,
        high_w=step_w,
        what=what,
        load=burst,
        who=UNNAMED,
        state=0,
    )
