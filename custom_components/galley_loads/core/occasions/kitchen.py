"""Alerts about single appliances: done, at temperature, left running."""

from collections import deque
from collections.abc import Mapping
from typing import Any, Final

from ..boat.boat import Boat
from ..inference.model.activity import Run
from . import texts
from .facts import Facts
from .likeness import power_likeness
from .occasion import AlertKind, Occasion
from .run_watch import RunWatch, WatchedRun

_NEWS_S: Final = 2 * 3600.0
"""How long "done" and "at temperature" stand."""

_HABIT_RUNS: Final = 8
_FEW_RUNS: Final = 4
_RUNS_KEPT: Final = 40
_SHORTEST_HEAT_UP_S: Final = 300.0
_TYPICAL_SHARE: Final = 0.5
"""A run shorter than this part of its appliance's usual ones is another's, or none."""
_TWIN_SHARE: Final = 0.1
"""Loads whose powers differ by less are easily taken for each other, however surely."""
_SURE_SHARE: Final = 0.8
"""The part of a run in which inference must have been sure of it before it is told of."""


class Kitchen:
    """Tells what there is to say about the appliances."""

    def __init__(self, boat: Boat) -> None:
        """Start without habits."""
        self._traits = {a.name: a.kind.traits for a in boat.appliances}
        self._twins = _with_a_twin(boat)
        self._watch = RunWatch(boat)
        self._done: dict[str, tuple[str, float, float]] = {}
        self._durations: dict[str, deque[float]] = {}
        self._energies_wh: dict[str, deque[float]] = {}

    @property
    def runs(self) -> Mapping[str, WatchedRun]:
        """The runs in progress, by appliance."""
        return self._watch.runs

    def settle(self, run: Run) -> None:
        """Learn a habit from a run that is settled."""
        kept = self._durations.setdefault(run.appliance, deque(maxlen=_RUNS_KEPT))
        kept.append(round(run.end_s - run.start_s, 1))
        took = self._energies_wh.setdefault(run.appliance, deque(maxlen=_RUNS_KEPT))
        took.append(round(run.energy_wh, 1))

    def usual_s(self, name: str) -> float | None:
        """Return the longest usual run of an appliance, s; None before a habit shows."""
        durations = sorted(self._durations.get(name, ()))
        if len(durations) < _HABIT_RUNS:
            return None
        return durations[min(int(0.9 * len(durations)), len(durations) - 1)]

    def typical_wh(self, name: str) -> float | None:
        """Return what a run of an appliance takes, Wh (median); None before the first."""
        energies_wh = sorted(self._energies_wh.get(name, ()))
        return energies_wh[len(energies_wh) // 2] if energies_wh else None

    def limit_s(self, name: str) -> float:
        """Return when a run counts as left running, s."""
        traits = self._traits[name]
        usual_s = self.usual_s(name)
        if usual_s is None:
            return 60.0 * traits.longest_minutes
        longest_s = max(self._durations[name])
        least_s = 60.0 * traits.least_limit_minutes
        return max(2.0 * usual_s, 1.5 * longest_s, least_s)

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasions that stand."""
        at_s = facts.at_s
        ended = self._watch.observe(at_s, facts.live)
        for name, run in ended.items():
            if self._is_worth_telling(name, run):
                self._done[name] = (run.key, at_s, run.duration_s)
        occasions: list[Occasion] = []
        for name, run in self._watch.runs.items():
            traits = self._traits[name]
            if run.gone_s is not None or not run.sure:
                continue
            warm_since_s = self._watch.warm_since_s(run)
            if traits.done_when_warm and warm_since_s is not None:
                if (
                    self._is_worth_telling(name, run)
                    and self._done.get(name, ("",))[0] != run.key
                ):
                    self._done[name] = (run.key, at_s, warm_since_s - run.start_s)
            if traits.reaches_temperature:
                occasions += self._at_temperature(name, run, at_s)
            occasions += self._left_running(name, run)
        occasions += self._finished(at_s)
        return occasions

    def _is_worth_telling(self, name: str, run: WatchedRun) -> bool:
        """Return whether the end of this run is one that somebody waits for."""
        traits = self._traits[name]
        if not traits.ends_by_itself or name in self._twins:
            return False
        if run.sure_share < _SURE_SHARE or run.doubtful:
            return False
        least_s = 60.0 * traits.least_done_minutes
        durations = sorted(self._durations.get(name, ()))
        if len(durations) >= _FEW_RUNS:
            typical_s = durations[len(durations) // 2]
            if run.duration_s < _TYPICAL_SHARE * typical_s:
                return False
        warm_since_s = self._watch.warm_since_s(run)
        if traits.done_when_warm and warm_since_s is not None:
            # Rice that soaks lukewarm for some minutes has not been cooked yet.
            return warm_since_s - run.start_s >= least_s
        return run.duration_s >= least_s

    def _finished(self, at_s: float) -> list[Occasion]:
        occasions: list[Occasion] = []
        for name, (key, done_s, run_s) in list(self._done.items()):
            run = self._watch.runs.get(name)
            again = run is not None and run.key != key
            if again or at_s - done_s > _NEWS_S or name not in self._traits:
                del self._done[name]
                continue
            keeps_warm = run is not None and self._watch.warm_since_s(run) is not None
            text = texts.finished(name, run_s, keeps_warm=keeps_warm)
            occasions.append(Occasion(AlertKind.FINISHED, name, key, *text))
        return occasions

    def _at_temperature(
        self, name: str, run: WatchedRun, at_s: float
    ) -> list[Occasion]:
        if run.holding_s is None or at_s - run.holding_s > _NEWS_S:
            return []
        heating_s = run.holding_s - run.start_s
        if heating_s < _SHORTEST_HEAT_UP_S or run.sure_share < _SURE_SHARE:
            return []
        text = texts.at_temperature(name, heating_s)
        return [Occasion(AlertKind.AT_TEMPERATURE, name, run.key, *text)]

    def _left_running(self, name: str, run: WatchedRun) -> list[Occasion]:
        if run.duration_s < self.limit_s(name) or run.sure_share < _SURE_SHARE:
            return []
        text = texts.left_running(name, run.duration_s, self.usual_s(name))
        return [Occasion(AlertKind.LEFT_RUNNING, name, run.key, *text)]

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "watch": self._watch.snapshot(),
            "done": {name: list(done) for name, done in self._done.items()},
            "durations": {name: list(kept) for name, kept in self._durations.items()},
            "energies_wh": {
                name: list(kept) for name, kept in self._energies_wh.items()
            },
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._watch.restore(state["watch"])
        self._done = {
            name: (key, done_s, run_s)
            for name, (key, done_s, run_s) in state["done"].items()
            if name in self._traits
        }
        self._durations = self._kept(state["durations"])
        self._energies_wh = self._kept(state["energies_wh"])

    def _kept(self, state: Mapping[str, Any]) -> dict[str, deque[float]]:
        return {
            name: deque(kept, maxlen=_RUNS_KEPT)
            for name, kept in state.items()
            if name in self._traits
        }


def _with_a_twin(boat: Boat) -> frozenset[str]:
    """Return the appliances told by the load alone that share their power with another.

    What may draw anything, as an induction hob does, has no twin.
    """
    likeness = power_likeness(boat)
    fixed = [a.name for a in boat.appliances if not a.kind.traits.any_power]
    return frozenset(
        one
        for one in fixed
        for other in fixed
        if likeness[one].get(other, 0.0) > 1.0 - _TWIN_SHARE
    )
