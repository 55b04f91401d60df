"""What is shown to run, and with what power: the machine between inference and the view.

Inference says at each look what may be going on and how likely that is. The board shows one
account of it that a crew can live with:

* What has just come and is not the boat's own fridge or pump is being recognised at once,
  with its watts; it gets a name as soon as one appliance is likely enough.
* A name that is shown stays until another account is clearly likelier. Then the new name
  takes the place of the old in one step.
* A run that pauses stays.
* What pulses is shown at the mean over its own cycle.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Final, TypedDict

from ..inference.model.activity import Activity, Phase
from ..inference.model.possibility import Possibility, PossibleLoad
from ..metering.load_sample import LONGEST_BRIDGE_S
from .cycle_mean import Change, CycleMean
from .joint_chances import NOBODY, JointChances, JointState
from .live_view import NameChance

LIKELY: Final = 0.45
"""Measured by `script/bench live`, a chance: from which on a name is shown at once."""
SURE: Final = 0.9
"""Judgement, a chance: what a single look is so sure of is shown without a second."""
LIKELIEST: Final = 0.2
"""Measured by `script/bench live`, a chance: enough for a name after `PATIENCE_S`."""
PATIENCE_S: Final = 10.0
"""Judgement, s: after that the likeliest name is shown, as somebody who cooks has long
seen what it is."""
YOUNGEST_S: Final = 4.0
"""Judgement, s: the first reading after a step may have been caught half-way."""
GOES_ON: Final = 0.5
"""Judgement, a chance: a silent run that goes on with less is over."""
STAYS: Final = 0.45
"""Judgement, a chance: one that is shown stays down to this one."""
SAME_START_S: Final = 90.0
"""Judgement, s: runs that begin within it may be the same one under two names."""
NOISE_W: Final = 25.0
"""Judgement, W: of what is left over, so much belongs to the base load."""
FRESH_W: Final = 40.0
"""Judgement, W: a smaller step of the base load is not looked into."""
FRESH_S: Final = 20.0
"""Judgement, s: a step that is unlike the boat's own is being recognised for so long."""
ABOVE_W: Final = 20.0
"""Judgement, W: so far may the base load be above its usual range."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What is shown of the inferred load.

    `activities` have the draw of this moment; `mean_w` what is shown instead of what pulses,
    W. `unnamed_w` is what is being recognised or has no name, `candidates` the names it may
    get. `corrected` has, by name, the name that was shown before in its place, `energy_wh`
    what each run was shown with so far. `paused` are those that rest.
    """

    activities: tuple[Activity, ...] = ()
    mean_w: Mapping[str, float] = field(default_factory=dict)
    unnamed_w: float = 0.0
    candidates: tuple[NameChance, ...] = ()
    corrected: Mapping[str, str] = field(default_factory=dict)
    energy_wh: Mapping[str, float] = field(default_factory=dict)
    paused: frozenset[str] = frozenset()


@dataclass(slots=True)
class ShownRun:
    """One run that is shown."""

    start_s: float
    shown_s: float
    phase: Phase = Phase.HEATING
    sure: float = 1.0
    instead_of: str | None = None
    power_w: float = 0.0
    energy_ws: float = 0.0
    cycle: CycleMean = field(default_factory=CycleMean)


class ShownRunState(TypedDict):
    """The saved state of a run that is shown."""

    start_s: float
    shown_s: float
    phase: str
    sure: float
    instead_of: str | None
    power_w: float
    energy_ws: float
    changes: list[Change]


class BoardState(TypedDict):
    """The saved state."""

    joint: JointState
    runs: dict[str, ShownRunState]
    base_w: float | None
    fresh_s: float | None
    looked_s: float | None


class LiveBoard:
    """Decides at each look what is shown; times never go back."""

    def __init__(self) -> None:
        """Start with nothing shown."""
        self._joint = JointChances()
        self._runs: dict[str, ShownRun] = {}
        self._base_w: float | None = None
        self._fresh_s: float | None = None
        self._looked_s: float | None = None
        self._last = Shown()

    def look(
        self,
        at_s: float,
        load_w: float,
        possibilities: Sequence[Possibility],
        *,
        base_high_w: float = inf,
        own_step: Callable[[float], bool] = lambda _: False,
    ) -> Shown:
        """Return what is shown at a time when the load is `load_w`, W.

        `base_high_w` is the most that the base load usually is, W; `own_step` says whether
        a step of that many W is one of its own.
        """
        if not possibilities:
            if self._looked_s is None or at_s - self._looked_s > LONGEST_BRIDGE_S:
                self._runs = {}
                self._last = Shown()
            return self._last
        self._count(at_s)
        corrected = self._decide(at_s, possibilities)
        shown = self._shown_of(possibilities)
        draws, unnamed_w = _draws(shown.loads, self._runs)
        base_w = self._base(at_s, shown.base_w, base_high_w, own_step)
        unnamed_w += shown.base_w - base_w
        left_w = load_w - shown.total_w
        if left_w > NOISE_W:
            unnamed_w += left_w
        elif left_w < -NOISE_W:
            unnamed_w = _without(draws, unnamed_w, -left_w)
        self._last = self._as_shown(
            at_s, shown.loads, draws, unnamed_w, possibilities, corrected
        )
        return self._last

    def _count(self, at_s: float) -> None:
        """Add up what was shown since the last look."""
        if self._looked_s is not None and self._looked_s < at_s:
            seconds = min(at_s - self._looked_s, LONGEST_BRIDGE_S)
            for run in self._runs.values():
                run.energy_ws += run.power_w * seconds
        self._looked_s = at_s

    # Who runs

    def _decide(
        self, at_s: float, possibilities: Iterable[Possibility]
    ) -> dict[str, str]:
        """Decide who is shown to run; return whose name took the place of which."""
        chances: dict[frozenset[str], float] = {}
        now: dict[str, float] = {}
        best: dict[str, tuple[float, PossibleLoad]] = {}
        for each in possibilities:
            together = set()
            for load in each.loads:
                name = load.name
                if name is None:
                    together.add(NOBODY)
                    continue
                if self._is_over(load):
                    continue
                together.add(name)
                now[name] = now.get(name, 0.0) + each.chance
                if name not in best or best[name][0] < each.chance:
                    best[name] = each.chance, load
            key = frozenset(together)
            chances[key] = chances.get(key, 0.0) + each.chance
        first = self._is_first(at_s)
        believed = self._joint.look(at_s, chances)
        gone = {n: r for n, r in self._runs.items() if n not in believed}
        for name in gone:
            del self._runs[name]
        corrected: dict[str, str] = {}
        for name in sorted(believed):
            if name not in best:
                continue
            load = best[name][1]
            certain = self._joint.chance(name)
            chance = certain * load.sure
            run = self._runs.get(name)
            if run is None:
                before = _in_place_of(load, gone)
                if (
                    not first
                    and before is None
                    and not _is_due(at_s, load, chance, now[name] * load.sure)
                ):
                    continue
                run = self._runs[name] = ShownRun(load.run_start_s, at_s)
                # What was drawn before it had its name.
                run.energy_ws = load.power_w * max(0.0, at_s - load.run_start_s)
                if before is not None:
                    run.instead_of = corrected[name] = before
                    run.energy_ws = gone[before].energy_ws
            run.start_s = min(run.start_s, load.run_start_s)
            # The shape of what has just begun says little: the chance alone is calibrated.
            run.phase, run.sure = load.phase, certain
        return corrected

    def _is_first(self, at_s: float) -> bool:
        """Return whether this look is the first, or the first for long."""
        before_s = self._joint.looked_s
        return before_s is None or at_s - before_s > LONGEST_BRIDGE_S

    def _is_over(self, load: PossibleLoad) -> bool:
        least = STAYS if load.name in self._runs else GOES_ON
        return load.silent and load.goes_on < least

    def _shown_of(self, possibilities: Sequence[Possibility]) -> Possibility:
        """Return the likeliest possibility of those that have most of what is shown."""

        def fit(each: Possibility) -> tuple[int, float]:
            names = {load.name for load in each.loads}
            return sum(name in names for name in self._runs), each.chance

        return max(possibilities, key=fit)

    # With what power

    def _base(
        self,
        at_s: float,
        base_w: float,
        high_w: float,
        own_step: Callable[[float], bool],
    ) -> float:
        """Return how much of a base load is shown as one; the rest is being recognised."""
        before_w = base_w if self._base_w is None else self._base_w
        step_w = base_w - before_w
        if step_w < FRESH_W or own_step(step_w):
            self._base_w, self._fresh_s = base_w, None
        elif self._fresh_s is None:
            self._fresh_s = at_s
        elif at_s - self._fresh_s > FRESH_S:
            self._base_w, self._fresh_s = base_w, None
        shown_w = base_w if self._fresh_s is None else before_w
        return min(shown_w, max(high_w + ABOVE_W, 0.0))

    def _as_shown(
        self,
        at_s: float,
        loads: Iterable[PossibleLoad],
        draws: Mapping[str, float],
        unnamed_w: float,
        possibilities: Iterable[Possibility],
        corrected: Mapping[str, str],
    ) -> Shown:
        silent = {load.name for load in loads if load.silent}
        activities: list[Activity] = []
        mean_w: dict[str, float] = {}
        for name, run in self._runs.items():
            power_w = draws.get(name, 0.0)
            run.cycle.observe(at_s, power_w)
            phase = run.phase
            if (mean := run.cycle.mean_w(at_s)) is not None:
                mean_w[name] = mean
                phase = Phase.HOLDING
            run.power_w = mean_w.get(name, power_w)
            activities.append(Activity(name, run.start_s, power_w, phase, run.sure))
        return Shown(
            tuple(activities),
            mean_w,
            max(0.0, unnamed_w),
            self._candidates(possibilities) if unnamed_w > NOISE_W else (),
            corrected,
            {name: run.energy_ws / 3600.0 for name, run in self._runs.items()},
            frozenset(n for n in self._runs if n in silent and n not in mean_w),
        )

    def _candidates(
        self, possibilities: Iterable[Possibility]
    ) -> tuple[NameChance, ...]:
        chances: dict[str, float] = {}
        for each in possibilities:
            for load in each.loads:
                if load.name is not None and load.name not in self._runs:
                    chances[load.name] = chances.get(load.name, 0.0) + each.chance
        ranked = sorted(chances.items(), key=lambda item: (-item[1], item[0]))
        return tuple(NameChance(name, chance) for name, chance in ranked)

    def snapshot(self) -> BoardState:
        """Return the whole state, JSON-able."""
        return {
            "joint": self._joint.snapshot(),
            "runs": {
                name: {
                    "start_s": run.start_s,
                    "shown_s": run.shown_s,
                    "phase": run.phase.value,
                    "sure": run.sure,
                    "instead_of": run.instead_of,
                    "power_w": run.power_w,
                    "energy_ws": run.energy_ws,
                    "changes": run.cycle.changes,
                }
                for name, run in self._runs.items()
            },
            "base_w": self._base_w,
            "fresh_s": self._fresh_s,
            "looked_s": self._looked_s,
        }

    def restore(self, state: BoardState) -> None:
        """Take over what `snapshot` gave."""
        self._joint.restore(state["joint"])
        self._runs = {
            name: ShownRun(
                run["start_s"],
                run["shown_s"],
                Phase(run["phase"]),
                run["sure"],
                run["instead_of"],
                run["power_w"],
                run["energy_ws"],
                CycleMean([(at_s, w) for at_s, w in run["changes"]]),
            )
            for name, run in state["runs"].items()
        }
        self._base_w = state["base_w"]
        self._fresh_s = state["fresh_s"]
        self._looked_s = state["looked_s"]


def _is_due(at_s: float, load: PossibleLoad, chance: float, now: float) -> bool:
    """Return whether a load that is believed gets its name."""
    age_s = at_s - load.run_start_s
    if load.silent or age_s < YOUNGEST_S:
        return False
    return (
        chance >= LIKELY or now >= SURE or (age_s >= PATIENCE_S and chance >= LIKELIEST)
    )


def _in_place_of(load: PossibleLoad, gone: Mapping[str, ShownRun]) -> str | None:
    """Return the name that was shown until now for what is this load, if there is one."""
    for name, run in gone.items():
        if abs(run.start_s - load.run_start_s) <= SAME_START_S:
            return name
    return None


def _draws(
    loads: Iterable[PossibleLoad], shown: Mapping[str, ShownRun]
) -> tuple[dict[str, float], float]:
    """Return the draws of those that are shown, and of all others together, W."""
    draws: dict[str, float] = {}
    unnamed_w = 0.0
    for load in loads:
        if load.name is not None and load.name in shown:
            draws[load.name] = draws.get(load.name, 0.0) + load.power_w
        else:
            unnamed_w += load.power_w
    return draws, unnamed_w


def _without(draws: dict[str, float], unnamed_w: float, excess_w: float) -> float:
    """Take away what must have gone a moment ago; return what is left without a name.

    What has no name goes first, then the least draw that is large enough.
    """
    taken_w = min(unnamed_w, excess_w)
    excess_w -= taken_w
    while excess_w > NOISE_W and any(draws.values()):
        enough = [name for name, w in draws.items() if w >= 0.9 * excess_w]
        name = (
            min(enough, key=draws.__getitem__)
            if enough
            else max(draws, key=draws.__getitem__)
        )
        gone_w = min(draws[name], excess_w)
        draws[name] -= gone_w
        excess_w -= gone_w
    return unnamed_w - taken_w
