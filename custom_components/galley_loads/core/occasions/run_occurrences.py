"""What occurs to single appliances: started, at temperature, finished, left running.

What inference shows of the present may be taken back, so every occurrence carries how much
of the run inference was sure of; what somebody is told only of a sure one is for the
filters to say.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

from ..boat.boat import Boat
from ..inference.model.activity import Run
from .facts import Facts
from .likeness import power_likeness
from .occurrence import Fact, Occurrence, OccurrenceKind
from .run_habits import RunHabits
from .run_watch import RunWatch, WatchedRun

_MATTERS_S: Final = 2 * 3600.0
"""How long "finished" and "at temperature" matter after they came about."""

_SHORTEST_HEAT_UP_S: Final = 300.0
_TYPICAL_SHARE: Final = 0.5
"""A run shorter than this part of its appliance's usual ones is another's, or none."""
_TWIN_SHARE: Final = 0.1
"""Loads whose powers differ by less are easily taken for each other, however surely."""

KEEPS_WARM: Final = "keeps_warm"
"""The variant of a run that is done and goes on at little power."""


@dataclass(slots=True)
class _Done:
    """A run that is done: when it was, how long it took, and how sure that is.

    `late_s` is how long after it was last seen its end was noticed, `mistakable` and
    `brief` are what the facts of the occurrence say.
    """

    key: str
    started_s: float
    done_s: float
    noticed_s: float
    run_s: float
    certainty: float
    mistakable: bool
    brief: bool
    late_s: float = 0.0


class RunOccurrences:
    """Follows the runs, and says what occurs to them."""

    def __init__(self, boat: Boat) -> None:
        """Start without runs and without habits."""
        self._boat = boat
        self._traits = {a.name: a.kind.traits for a in boat.appliances}
        self._twins = _with_a_twin(boat)
        self._watch = RunWatch(boat)
        self._done: dict[str, _Done] = {}
        self.habits = RunHabits(boat)

    def settle(self, run: Run) -> None:
        """Learn a habit from a run that is settled."""
        self.habits.settle(run)

    def remaining_wh(self, taken_wh: Mapping[str, float]) -> dict[str, float]:
        """Return what the running appliances are expected to take still, Wh by name.

        `taken_wh` is what each has taken. A run is expected to take what its appliance's
        runs usually do, before the first one half an hour's by its kind; and always a
        fifth of that more.
        """
        remaining: dict[str, float] = {}
        for name, run in self._watch.runs.items():
            if run.gone_s is not None:
                continue
            typical_wh = self.habits.typical_wh(name)
            if typical_wh is None:
                appliance = self._boat.appliance(name)
                typical_wh = appliance.kind.typical_energy_wh(
                    appliance.rated_power_w, 30
                )
            left_wh = typical_wh - taken_wh.get(name, 0.0)
            remaining[name] = max(left_wh, 0.2 * typical_wh)
        return remaining

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        at_s = facts.at_s
        ended = self._watch.observe(at_s, facts.live)
        for name, run in ended.items():
            self._note_end(name, run, at_s)
        occurrences: list[Occurrence] = []
        for name, run in self._watch.runs.items():
            if run.gone_s is not None:
                continue
            occurrences.append(_started(name, run))
            if run.sure:
                self._note_warm(name, run, at_s)
                occurrences += self._at_temperature(name, run, at_s)
                occurrences += self._left_running(name, run)
        return occurrences + self._finished(at_s)

    def _note_warm(self, name: str, run: WatchedRun, at_s: float) -> None:
        """Note that what is done when it keeps warm has begun to, or is surer by now."""
        traits = self._traits[name]
        known = self._done.get(name)
        if known is not None and known.key == run.key:
            known.certainty = run.sure_share
            known.brief = self._is_brief(name, run, known.run_s)
            return
        warm_since_s = self._watch.warm_since_s(run)
        if not traits.done_when_warm or warm_since_s is None or run.met_warm:
            return
        cooked_s = warm_since_s - run.start_s
        if cooked_s < 60.0 * traits.least_done_minutes:
            # Rice that soaks lukewarm for some minutes has not been cooked yet.
            return
        self._done[name] = self._done_of(name, run, warm_since_s, at_s)

    def _note_end(self, name: str, run: WatchedRun, at_s: float) -> None:
        """Note that a run is over, or was as good as over and now is."""
        if run.met_warm and self._traits[name].done_when_warm:
            return
        known = self._done.get(name)
        if known is not None and known.key == run.key:
            known.certainty = run.sure_share
            known.mistakable = known.mistakable or run.doubtful
        else:
            known = self._done[name] = self._done_of(name, run, run.last_s, at_s)
        known.late_s = at_s - run.last_s

    def _done_of(self, name: str, run: WatchedRun, done_s: float, at_s: float) -> _Done:
        run_s = done_s - run.start_s
        return _Done(
            run.key,
            run.start_s,
            done_s,
            at_s,
            run_s,
            run.sure_share,
            mistakable=name in self._twins or run.doubtful,
            brief=self._is_brief(name, run, run_s),
        )

    def _is_brief(self, name: str, run: WatchedRun, run_s: float) -> bool:
        """Return whether a run was too short to have cooked what it usually cooks."""
        typical_s = self.habits.typical_s(name)
        if typical_s is not None and run.duration_s < _TYPICAL_SHARE * typical_s:
            return True
        return run_s < 60.0 * self._traits[name].least_done_minutes

    def _finished(self, at_s: float) -> list[Occurrence]:
        occurrences: list[Occurrence] = []
        for name, done in list(self._done.items()):
            run = self._watch.runs.get(name)
            again = run is not None and run.key != done.key
            if again or at_s - done.noticed_s > _MATTERS_S:
                del self._done[name]
                continue
            warm = run is not None and self._watch.warm_since_s(run) is not None
            facts: dict[str, Fact] = {
                "started_s": done.started_s,
                "run_s": done.run_s,
                "late_s": done.late_s,
                "by_itself": self._traits[name].ends_by_itself,
                "mistakable": done.mistakable,
                "brief": done.brief,
            }
            occurrences.append(
                Occurrence(
                    OccurrenceKind.FINISHED,
                    name,
                    done.key,
                    done.done_s,
                    done.certainty,
                    facts,
                    KEEPS_WARM if warm else "",
                )
            )
        return occurrences

    def _at_temperature(
        self, name: str, run: WatchedRun, at_s: float
    ) -> list[Occurrence]:
        if not self._traits[name].reaches_temperature or run.met_warm:
            return []
        if run.holding_s is None or at_s - run.holding_s > _MATTERS_S:
            return []
        heating_s = run.holding_s - run.start_s
        if heating_s < _SHORTEST_HEAT_UP_S:
            return []
        return [
            Occurrence(
                OccurrenceKind.AT_TEMPERATURE,
                name,
                run.key,
                run.holding_s,
                run.sure_share,
                {"started_s": run.start_s, "run_s": heating_s},
            )
        ]

    def _left_running(self, name: str, run: WatchedRun) -> list[Occurrence]:
        limit_s = self.habits.limit_s(name)
        if run.duration_s < limit_s:
            return []
        return [
            Occurrence(
                OccurrenceKind.LEFT_RUNNING,
                name,
                run.key,
                run.start_s + limit_s,
                run.sure_share,
                {
                    "started_s": run.start_s,
                    "run_s": run.duration_s,
                    "usual_s": self.habits.usual_s(name),
                },
            )
        ]

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "watch": self._watch.snapshot(),
            "done": {name: asdict(done) for name, done in self._done.items()},
            "habits": self.habits.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`; appliances that are gone are forgotten."""
        self._watch.restore(state["watch"])
        self._done = {
            name: _Done(**done)
            for name, done in state["done"].items()
            if name in self._traits
        }
        self.habits.restore(state["habits"])


def _started(name: str, run: WatchedRun) -> Occurrence:
    """Return a run in progress; its certainty is 0 until inference was sure of it once."""
    return Occurrence(
        OccurrenceKind.STARTED,
        name,
        run.key,
        run.start_s,
        run.sure_share if run.sure else 0.0,
        {"started_s": run.start_s, "run_s": run.duration_s},
    )


def _with_a_twin(boat: Boat) -> frozenset[str]:
    """Return the appliances known by the load alone that share their power with another.

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
