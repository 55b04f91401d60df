"""How long an appliance usually runs and what it takes, learnt from settled runs."""

from collections import deque
from collections.abc import Iterable, Mapping
from typing import Final, TypedDict

from ..boat.boat import Boat
from ..inference.model.activity import Run

_HABIT_RUNS: Final = 8
_FEW_RUNS: Final = 4
_RUNS_KEPT: Final = 40


class KeptHabits(TypedDict):
    """What is kept of the habits: s and Wh of the last runs, by appliance."""

    durations: dict[str, list[float]]
    energies_wh: dict[str, list[float]]


class RunHabits:
    """The habits of all appliances."""

    def __init__(self, boat: Boat) -> None:
        """Start without habits."""
        self._traits = {a.name: a.kind.traits for a in boat.appliances}
        self._durations: dict[str, deque[float]] = {}
        self._energies_wh: dict[str, deque[float]] = {}

    def settle(self, run: Run) -> None:
        """Learn from a run that is settled."""
        self._keep(run.appliance, run.end_s - run.start_s)
        took = self._energies_wh.setdefault(run.appliance, deque(maxlen=_RUNS_KEPT))
        took.append(round(run.energy_wh, 1))

    def recall(self, name: str, durations_s: Iterable[float]) -> None:
        """Take how long an appliance ran before, s, where nothing of it is known yet."""
        if name in self._traits and name not in self._durations:
            for duration_s in durations_s:
                self._keep(name, duration_s)

    def _keep(self, name: str, duration_s: float) -> None:
        kept = self._durations.setdefault(name, deque(maxlen=_RUNS_KEPT))
        kept.append(round(duration_s, 1))

    def usual_s(self, name: str) -> float | None:
        """Return the longest usual run of an appliance, s; None before a habit shows."""
        durations = sorted(self._durations.get(name, ()))
        if len(durations) < _HABIT_RUNS:
            return None
        return durations[min(int(0.9 * len(durations)), len(durations) - 1)]

    def typical_s(self, name: str) -> float | None:
        """Return the median run of an appliance, s; None before there are a few."""
        durations = sorted(self._durations.get(name, ()))
        return durations[len(durations) // 2] if len(durations) >= _FEW_RUNS else None

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

    def snapshot(self) -> KeptHabits:
        """Return the state as JSON-able data."""
        return {
            "durations": {name: list(kept) for name, kept in self._durations.items()},
            "energies_wh": {
                name: list(kept) for name, kept in self._energies_wh.items()
            },
        }

    def restore(self, state: KeptHabits) -> None:
        """Take up a state from `snapshot`; appliances that are gone are forgotten."""
        self._durations = self._kept(state["durations"])
        self._energies_wh = self._kept(state["energies_wh"])

    def _kept(self, state: Mapping[str, list[float]]) -> dict[str, deque[float]]:
        return {
            name: deque(kept, maxlen=_RUNS_KEPT)
            for name, kept in state.items()
            if name in self._traits
        }
