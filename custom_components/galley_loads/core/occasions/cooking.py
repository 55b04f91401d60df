"""News of single appliances: started, at temperature, finished, left running.

What inference shows of the present may be taken back, so a run is told of only when it
has been seen with confidence for a while, and counts as over only when it has been gone
for longer than a pan is lifted. What went on before anybody watched is not news.
"""

from typing import Final

from ..boat.boat import Boat
from ..inference.model.activity import Run
from ..live.live_view import ApplianceState
from .facts import Facts
from .kitchen import Kitchen
from .news_item import Detail, News, NewsKind
from .occasion import AlertKind
from .run_watch import RunWatch, WatchedRun

STARTED_CONFIRMED_S: Final = 20.0
"""How long a run is seen with confidence before it is told of."""

STARTED_SURE_SHARE: Final = 0.5
"""The part of that time, and of all since its start, in which inference was sure of it."""

FINISHED_SURE_SHARE: Final = 0.8
"""A run that was doubtful for more of its time is not told as finished: it was perhaps
another appliance's."""

STALE_S: Final = 900.0
"""What was noticed later than this (after a gap in the readings) is no news."""

_KITCHEN_NEWS: Final = {
    AlertKind.AT_TEMPERATURE: NewsKind.APPLIANCE_AT_TEMPERATURE,
    AlertKind.LEFT_RUNNING: NewsKind.APPLIANCE_LEFT_RUNNING,
    AlertKind.FINISHED: NewsKind.APPLIANCE_FINISHED,
}


class CookingNews:
    """Tells what the appliances do."""

    def __init__(self, boat: Boat) -> None:
        """Start without runs."""
        self._watch = RunWatch(boat)
        self._kitchen = Kitchen(boat)
        self._done_when_warm = {
            a.name for a in boat.appliances if a.kind.traits.done_when_warm
        }
        self._told: dict[str, set[NewsKind]] = {}

    def settle(self, run: Run) -> None:
        """Learn from a run that is settled how long the appliance usually runs."""
        self._kitchen.settle(run)

    def observe(self, facts: Facts, *, first: bool) -> list[News]:
        """Take a moment; return what is new in it.

        With `first` the moment is what everything later is compared with: nothing in it
        is news.
        """
        at_s = facts.at_s
        ended = self._watch.observe(at_s, facts.live)
        standing = self._kitchen.observe(facts)
        if first:
            self._take_as_told(facts)
        news: list[News] = []
        for name, run in self._watch.runs.items():
            if self._has_started(run, first=first) and self._is_new(
                NewsKind.APPLIANCE_STARTED, name, run.key
            ):
                if not first and at_s - run.start_s <= STALE_S:
                    news.append(self._news(NewsKind.APPLIANCE_STARTED, name, at_s, run))
        for occasion in standing:
            kind = _KITCHEN_NEWS.get(occasion.kind)
            name, key = occasion.subject, occasion.key
            if kind is None or not self._was_told(
                NewsKind.APPLIANCE_STARTED, name, key
            ):
                continue
            if self._is_new(kind, name, key) and not first:
                known = self._watch.runs.get(name) or ended.get(name)
                news.append(self._news(kind, name, at_s, known))
        for name, run in ended.items():
            if (
                self._was_told(NewsKind.APPLIANCE_STARTED, name, run.key)
                and run.sure_share >= FINISHED_SURE_SHARE
                and self._is_new(NewsKind.APPLIANCE_FINISHED, name, run.key)
                and at_s - run.last_s <= STALE_S
            ):
                news.append(self._news(NewsKind.APPLIANCE_FINISHED, name, at_s, run))
        self._forget()
        return news

    def _take_as_told(self, facts: Facts) -> None:
        """Take what is hot already as told to be so, and done if that means done."""
        for name, run in self._watch.runs.items():
            if facts.live.appliance(name).state is ApplianceState.HOLDING:
                self._is_new(NewsKind.APPLIANCE_AT_TEMPERATURE, name, run.key)
                if name in self._done_when_warm:
                    self._is_new(NewsKind.APPLIANCE_FINISHED, name, run.key)

    def _has_started(self, run: WatchedRun, *, first: bool) -> bool:
        if run.gone_s is not None:
            return False
        return first or (
            run.sure
            and run.duration_s >= STARTED_CONFIRMED_S
            and run.sure_share >= STARTED_SURE_SHARE
        )

    def _was_told(self, kind: NewsKind, name: str, key: str) -> bool:
        return kind in self._told.get(f"{name}|{key}", ())

    def _is_new(self, kind: NewsKind, name: str, key: str) -> bool:
        """Return whether this was not told of this run, and remember it as told."""
        told = self._told.setdefault(f"{name}|{key}", set())
        if kind in told:
            return False
        told.add(kind)
        return True

    def _forget(self) -> None:
        """Forget all but the newest runs: an older one has long been gone."""
        while len(self._told) > 200:
            del self._told[next(iter(self._told))]

    def _news(
        self, kind: NewsKind, name: str, at_s: float, run: WatchedRun | None
    ) -> News:
        details: dict[str, Detail] = {}
        if run is not None:
            details["started_s"] = round(run.start_s, 1)
            if kind is not NewsKind.APPLIANCE_STARTED:
                details["minutes"] = round(run.duration_s / 60.0, 1)
        return News(kind, name, at_s, details)
