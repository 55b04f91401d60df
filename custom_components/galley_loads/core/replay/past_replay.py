"""A boat's recorded past, worked through by an engine of its own.

The past is run through a new engine while the present goes on in another. Once the past
has caught up, its engine takes over. What was counted live meanwhile must not be counted
again, so the counters are noted at every settling (a `CountMark`): whoever takes over knows
from which totals on to count.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import batched
from operator import itemgetter
from typing import Final, Self, TypedDict

from ..boat.boat import Boat
from ..engine import READINGS_AT_ONCE, Engine, EngineState
from ..events import Event, MealSettled, SpanSettled
from ..ledger.account import Flow, Share
from ..ledger.totals import Totals, TotalsState
from ..meals.meal_builder import Meal, MealMapping, meal_from_mapping, meal_to_mapping
from ..metering.reading import ReadingRow
from ..stateful import checked

HOUR_S: Final = 3600.0

_at_s: Final = itemgetter(2)


@dataclass(frozen=True, slots=True)
class CountMark:
    """The totals at the moment up to which everything was settled; None: nothing was."""

    settled_s: float | None
    totals: Totals


class HourlyTotalsState(TypedDict):
    """What `HourlyTotals` saves."""

    cuts_s: list[float]
    totals: list[tuple[int, int, TotalsState]]


class HourlyTotals:
    """What was settled, hour by hour (the hours of UTC).

    `cuts_s` are moments from which on some counter counts by itself. What was settled up
    to such a moment can be told apart from what came later, also within an hour.
    """

    def __init__(self, cuts_s: Iterable[float] = ()) -> None:
        """Start with nothing."""
        self._cuts_s = sorted(set(cuts_s))
        self._totals: dict[tuple[int, int], Totals] = {}

    def add(self, flow: Flow, settled_s: float) -> None:
        """Count one settled span; it is shared by the hours it touches by time.

        `settled_s` is up to when everything was settled together with it.
        """
        era = bisect_left(self._cuts_s, settled_s)
        hour_s = int(flow.start_s // HOUR_S * HOUR_S)
        if flow.end_s <= hour_s + HOUR_S:
            self._at(hour_s, era).add(flow)
            return
        duration_s = flow.end_s - flow.start_s
        while hour_s < flow.end_s:
            start_s = max(flow.start_s, hour_s)
            end_s = min(flow.end_s, hour_s + HOUR_S)
            self._at(hour_s, era).add(_part(flow, start_s, end_s, duration_s))
            hour_s += int(HOUR_S)

    def _at(self, hour_s: int, era: int) -> Totals:
        return self._totals.setdefault((hour_s, era), Totals())

    def until(self, cut_s: float = float("inf")) -> Iterator[tuple[int, Totals]]:
        """Yield hours and what was settled in them up to one of the cuts.

        An hour comes several times where there is a cut within it.
        """
        last_era = bisect_left(self._cuts_s, cut_s)
        for (hour_s, era), totals in self._totals.items():
            if era <= last_era:
                yield hour_s, totals

    def snapshot(self) -> HourlyTotalsState:
        """Return the state as plain data."""
        return {
            "cuts_s": list(self._cuts_s),
            "totals": [(*key, t.as_mapping()) for key, t in self._totals.items()],
        }

    def restore(self, state: HourlyTotalsState) -> None:
        """Take a state that `snapshot` gave."""
        self._cuts_s = list(state["cuts_s"])
        self._totals = {
            (hour_s, era): Totals.from_mapping(totals)
            for hour_s, era, totals in state["totals"]
        }


def _part(flow: Flow, start_s: float, end_s: float, duration_s: float) -> Flow:
    """Return the part of a span's account that falls between two moments."""
    share = (end_s - start_s) / duration_s
    return replace(
        flow,
        start_s=start_s,
        end_s=end_s,
        load_wh=flow.load_wh * share,
        runs={
            key: Share(
                part.energy_wh * share,
                part.bank_ah * share,
                part.drawn_ah * share,
                part.solar_wh * share,
            )
            for key, part in flow.runs.items()
        },
        standby_wh={name: wh * share for name, wh in flow.standby_wh.items()},
        background_wh=flow.background_wh * share,
        unassigned_wh=flow.unassigned_wh * share,
        solar_wh=flow.solar_wh * share,
        unmeasured_s=flow.unmeasured_s * share,
        net_unknown_s=flow.net_unknown_s * share,
        sun_unknown_s=flow.sun_unknown_s * share,
        own_meters_wh=flow.own_meters_wh * share,
    )


class PastReplayState(TypedDict):
    """What `PastReplay` saves."""

    engine: EngineState
    from_s: float
    read_until_s: float
    counted_until_s: float
    meals: list[MealMapping]
    hours: HourlyTotalsState
    marks: list[tuple[float | None, TotalsState]]


class PastReplay:
    """The past of one boat as far as it was worked through."""

    def __init__(
        self,
        boat: Boat,
        from_s: float,
        counted_until_s: float,
        cuts_s: Iterable[float] = (),
    ) -> None:
        """Start at `from_s`.

        Everything up to `counted_until_s` was counted already, or is not to be counted:
        no mark before it will be asked for. For it and `cuts_s` see `HourlyTotals`.
        """
        self.engine = Engine(boat)
        self.from_s = from_s
        self.read_until_s = from_s
        self.counted_until_s = counted_until_s
        self.meals: list[Meal] = []
        self.hours = HourlyTotals((counted_until_s, *cuts_s))
        self._marks: list[CountMark] = [CountMark(None, Totals())]

    def work_through(
        self,
        readings: Iterable[ReadingRow],
        until_s: float | None = None,
        stopped: Callable[[], bool] | None = None,
    ) -> None:
        """Take in the next readings.

        `until_s` is the end of the span they cover. Asked every few milliseconds,
        `stopped` ends the work; what was taken in until then stays.
        """
        for some in batched(readings, READINGS_AT_ONCE, strict=False):
            if stopped is not None and stopped():
                return
            self.engine.feed_all(some, self._note)
            self.read_until_s = max(self.read_until_s, *map(_at_s, some))
        if until_s is not None:
            self.read_until_s = max(self.read_until_s, until_s)

    def _note(self, events: Iterable[Event]) -> None:
        """Keep what was settled."""
        settled_s = self.engine.settled_until_s
        for event in events:
            match event:
                case SpanSettled(_, flow):
                    self.hours.add(flow, flow.end_s if settled_s is None else settled_s)
                case MealSettled(meal):
                    self.meals.append(meal)
        self._add_mark()

    def _add_mark(self) -> None:
        mark = CountMark(self.engine.settled_until_s, _copy(self.engine.totals))
        settled_s = mark.settled_s
        if settled_s is not None and settled_s <= self.counted_until_s:
            self._marks = [mark]
        elif self._marks[-1].settled_s == settled_s:
            self._marks[-1] = mark
        else:
            self._marks.append(mark)

    def mark_at(self, counted_until_s: float) -> CountMark:
        """Return the last mark that holds nothing settled after `counted_until_s`.

        Of a moment before everything that is remembered, the first mark.
        """
        index = bisect_right(
            self._marks,
            counted_until_s,
            key=lambda m: float("-inf") if m.settled_s is None else m.settled_s,
        )
        return self._marks[max(0, index - 1)]

    def snapshot(self) -> PastReplayState:
        """Return the whole state as plain data, fit for JSON."""
        return {
            "engine": self.engine.snapshot(),
            "from_s": self.from_s,
            "read_until_s": self.read_until_s,
            "counted_until_s": self.counted_until_s,
            "meals": [meal_to_mapping(meal) for meal in self.meals],
            "hours": self.hours.snapshot(),
            "marks": [(m.settled_s, m.totals.as_mapping()) for m in self._marks],
        }

    @classmethod
    def from_state(cls, boat: Boat, state: object) -> Self:
        """Return the past that `snapshot` described.

        Raises:
            StateError: the state cannot be read.
        """
        past = cls(boat, 0.0, 0.0)
        past.restore(state)
        return past

    def restore(self, state: object) -> None:
        """Take back what `snapshot` gave, into a fresh one of the same boat.

        Raises:
            StateError: the state cannot be read.
        """
        stored = checked(PastReplayState, state)
        self.engine.restore(stored["engine"])
        self.from_s = stored["from_s"]
        self.read_until_s = stored["read_until_s"]
        self.counted_until_s = stored["counted_until_s"]
        self.meals = [meal_from_mapping(meal) for meal in stored["meals"]]
        self.hours.restore(stored["hours"])
        self._marks = [
            CountMark(settled_s, Totals.from_mapping(totals))
            for settled_s, totals in stored["marks"]
        ]


def _copy(totals: Totals) -> Totals:
    return Totals.from_mapping(totals.as_mapping())
