"""Runs as they can be seen live: begun, at temperature, ended, or a mistake after all.

What inference shows of the present may be revised. A run counts as ended only when it has
been gone for a while, and not at all when it turned into another appliance's run.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

from ..boat.boat import Boat
from ..live.live_view import ApplianceNow, ApplianceState, LiveView
from .likeness import power_likeness

_SAME_START_S: Final = 90.0
_UNNAMED_W: Final = 100.0
_LEAST_LIKE: Final = 1 / 1.4
SURE: Final = 0.8


@dataclass(slots=True)
class WatchedRun:
    """One appliance's run in progress or just ended.

    `first_start_s` is the start as first seen, which names the run; `seen_s` is when that
    was, and `start_s` may be revised. `holding_since_s` is since when it holds its
    temperature, `holding_s` when it first came to it, `sure` whether inference has been
    confident of it, `sure_s` for how long, `met` whether it went on when the watch began,
    `met_warm` whether it held its temperature then, `doubtful` whether something like it
    went on after its end, `gone_s` since when it is no longer seen.
    """

    first_start_s: float
    seen_s: float
    start_s: float
    last_s: float
    power_w: float = 0.0
    holding_since_s: float | None = None
    holding_s: float | None = None
    sure: bool = False
    sure_s: float = 0.0
    met: bool = False
    met_warm: bool = False
    doubtful: bool = False
    gone_s: float | None = None

    @property
    def key(self) -> str:
        """What tells this run from the appliance's other runs."""
        return f"{self.first_start_s:.0f}"

    @property
    def sure_share(self) -> float:
        """The part of the run in which inference was sure of it.

        A run that inference makes up of the past has not been seen for long; one that
        went on already when the watch began is judged from then on.
        """
        judged_s = self.last_s - (self.seen_s if self.met else self.start_s)
        if self.met and judged_s < _SAME_START_S:
            return 1.0 if self.sure else 0.0
        return self.sure_s / judged_s if judged_s > 0 else 0.0

    @property
    def duration_s(self) -> float:
        """How long it has been seen."""
        return self.last_s - self.start_s


class RunWatch:
    """Follows the runs of all appliances."""

    def __init__(self, boat: Boat, holding_confirmed_s: float = 45.0) -> None:
        """Start without runs."""
        self._names = [a.name for a in boat.appliances]
        self._confirm_s = {
            a.name: a.kind.traits.longest_rest_s for a in boat.appliances
        }
        self._like = {
            name: [other for other, ratio in others.items() if ratio >= _LEAST_LIKE]
            for name, others in power_likeness(boat).items()
        }
        self._holding_confirmed_s = holding_confirmed_s
        self._first = True
        self.runs: dict[str, WatchedRun] = {}

    def observe(self, at_s: float, live: LiveView) -> dict[str, WatchedRun]:
        """Take the present; return the runs that have just been confirmed as ended."""
        ended: dict[str, WatchedRun] = {}
        met, self._first = self._first, False
        for name in self._names:
            now = live.appliance(name)
            run = self.runs.get(name)
            if now.running:
                self._going_on(at_s, now, run, met)
            elif run is not None:
                if run.gone_s is None:
                    run.gone_s, run.doubtful = at_s, False
                run.doubtful = run.doubtful or self._goes_on(name, live)
                if self._became_another(run, live):
                    del self.runs[name]
                elif (
                    at_s - run.gone_s >= self._confirm_s[name]
                    and live.load_w is not None
                ):
                    del self.runs[name]
                    if run.sure:
                        ended[name] = run
        return ended

    def _going_on(
        self, at_s: float, now: ApplianceNow, run: WatchedRun | None, met: bool
    ) -> None:
        assert now.run_start_s is not None
        if run is None:
            run = self.runs[now.name] = WatchedRun(
                now.run_start_s, at_s, now.run_start_s, at_s, met=met
            )
            run.met_warm = met and now.state is ApplianceState.HOLDING
        if now.confidence >= SURE:
            run.sure_s += max(at_s - run.last_s, 0.0)
        run.start_s = min(run.start_s, now.run_start_s)
        run.last_s, run.gone_s, run.power_w = at_s, None, now.power_w
        run.sure = run.sure or now.confidence >= SURE
        if now.state is not ApplianceState.HOLDING:
            run.holding_since_s = None
            return
        if run.holding_since_s is None:
            run.holding_since_s = at_s
        if run.holding_s is None:
            run.holding_s = self.warm_since_s(run)

    def warm_since_s(self, run: WatchedRun) -> float | None:
        """Return since when a run has held its temperature; None if it does not, or hardly."""
        since_s = run.holding_since_s
        if since_s is None or run.last_s - since_s < self._holding_confirmed_s:
            return None
        return since_s

    def _goes_on(self, name: str, live: LiveView) -> bool:
        """Return whether a run that ended may go on under another name, or under none."""
        if (live.unassigned_w or 0.0) >= _UNNAMED_W:
            return True
        return any(live.appliance(other).running for other in self._like[name])

    def _became_another(self, run: WatchedRun, live: LiveView) -> bool:
        """Return whether another appliance has taken the run over.

        It has, if that one's run began at the same time and is only seen now.
        """
        for now in live.appliances:
            if now.run_start_s is None:
                continue
            watched = self.runs.get(now.name)
            beside = watched is not None and watched.seen_s <= run.last_s
            if not beside and abs(now.run_start_s - run.start_s) <= _SAME_START_S:
                return True
        return False

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {name: asdict(run) for name, run in self.runs.items()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`; appliances that are gone are forgotten."""
        self._first = False
        self.runs = {
            name: WatchedRun(**run)
            for name, run in state.items()
            if name in self._names
        }
