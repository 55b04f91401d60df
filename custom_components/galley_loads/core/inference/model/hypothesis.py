"""One hypothesis of the recent past: who runs in which state since when.

Hypotheses share their loads. An `ActiveLoad` is one running load within one hypothesis and
is never changed, only replaced; `PastStep`s form the hypothesis's past as a list linked
backwards, so that hypotheses which were one until a minute ago share everything before.
"""

from typing import Final

from .bursts import Burst

UNNAMED: Final = -1
"""Definition: index of a load that nobody named."""

STILL: Final = 1e18
"""Definition, Unix time: end of a run that still runs."""

type RunId = tuple[int, float]
"""A run within inference: its appliance's index and its start, Unix time. Outside of it a
run is a `RunKey`, by its appliance's name."""

type RunSpan = tuple[int, float, float]
"""Appliance index, start and end of a run; without end while it runs."""

type Dwells = tuple[tuple[int, float, int, int], ...]
"""Number and mean logarithm of a run's own dwells, the state that last followed and how
often it did in a row, by kind of dwell."""

NO_DWELL: Final = (0, 0.0, -1, 0)
"""Definition: nothing known of a run's own dwells."""

type Rival = tuple[float, tuple[RunSpan, ...]]
"""What nearly won: by how much it lost, and its recent runs."""


class ActiveLoad:
    """One running load: appliance index (or `UNNAMED`), state, draw and memory.

    `draws` holds, per memory slot of its machine, the last draw of this run in W or None;
    `dwells`, per state whose dwells are alike within a run, their number and mean logarithm.
    `scale_s`, `shape` and `long_s` are the law by which this dwell is expected to end.
    `partial` says that the meter was too slow to show the whole draw of this dwell, so that
    it must have ended by the next steady state.
    """

    __slots__ = (
        "draws",
        "dwells",
        "index",
        "long_s",
        "partial",
        "power_w",
        "run_start_s",
        "scale_s",
        "shape",
        "since_s",
        "state",
    )

    def __init__(
        self,
        index: int,
        state: int,
        power_w: float,
        since_s: float,
        run_start_s: float,
        draws: tuple[float | None, ...],
        dwells: Dwells,
        law: tuple[float, float, float],
        partial: bool = False,
    ) -> None:
        """Hold what is given."""
        self.index = index
        self.state = state
        self.power_w = power_w
        self.since_s = since_s
        self.run_start_s = run_start_s
        self.draws = draws
        self.dwells = dwells
        self.scale_s, self.shape, self.long_s = law
        self.partial = partial

    @property
    def run(self) -> RunId:
        """The run that it is in."""
        return self.index, self.run_start_s


class PastStep:
    """What ran over one steady state; `edge` marks a step caught half-way by the meter."""

    __slots__ = (
        "base_w",
        "edge",
        "end_s",
        "level_w",
        "loads",
        "parent",
        "rivals",
        "start_s",
    )

    def __init__(
        self,
        parent: PastStep | None,
        start_s: float,
        end_s: float,
        level_w: float | None,
        base_w: float,
        loads: tuple[ActiveLoad, ...],
        edge: bool,
    ) -> None:
        """Hold what is given; a level of None was not measured."""
        self.parent = parent
        self.start_s = start_s
        self.end_s = end_s
        self.level_w = level_w
        self.base_w = base_w
        self.loads = loads
        self.edge = edge
        self.rivals: tuple[Rival, ...] = ()


class Hypothesis:
    """One hypothesis and its cost (-log probability up to a constant).

    `base_w` is the base load, `total_w` what it expects of the meter. `held` counts the
    steady states that it takes for a step caught half-way and has not explained yet; the first
    of them began at `held_since_s`, and `held_ws` is their energy. `runs` are the runs that
    ended within the last hour, `bursts` the small loads that the base load saw lately.
    """

    __slots__ = (
        "base_w",
        "bursts",
        "cost",
        "held",
        "held_since_s",
        "held_ws",
        "loads",
        "past",
        "runs",
        "total_w",
    )

    def __init__(
        self,
        cost: float,
        base_w: float,
        total_w: float,
        loads: tuple[ActiveLoad, ...],
        past: PastStep | None,
        runs: tuple[RunSpan, ...] = (),
        held: int = 0,
        held_since_s: float = 0.0,
        held_ws: float = 0.0,
        bursts: tuple[Burst, ...] = (),
    ) -> None:
        """Hold what is given."""
        self.cost = cost
        self.base_w = base_w
        self.total_w = total_w
        self.loads = loads
        self.past = past
        self.runs = runs
        self.held = held
        self.held_since_s = held_since_s
        self.held_ws = held_ws
        self.bursts = bursts

    def stepped_s(self, at_s: float, level_w: float) -> float:
        """Return when the load stepped to a level that the meter shows from `at_s` on.

        A meter that caught the edge showed means: what it showed of the step says when
        within the edge the step was.
        """
        if not self.held:
            return at_s
        seconds = at_s - self.held_since_s
        step_w = level_w - self.total_w
        if seconds <= 0.0 or step_w == 0.0:
            return at_s
        share = (self.held_ws / seconds - self.total_w) / step_w
        return at_s - min(1.0, max(0.0, share)) * seconds
