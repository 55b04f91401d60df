"""What a crew would have seen of a history while it happened, and what they would have heard.

Rows of two tables, without hindsight: what was shown at a time stands there as it was
shown then, however it was understood later.
"""

from collections.abc import Callable, Iterable
from typing import Final, NamedTuple

from ..boat.boat import Boat
from ..events import Event, MealSettled, RunSettled
from ..live.live_view import LiveView
from ..occasions.event_filter import AutomationEvent, EventFilter
from ..occasions.facts import Facts
from ..occasions.occurrence import OF_RUNS
from ..occasions.occurrence_watch import OccurrenceWatch
from .replay import iso_time

BACKGROUND: Final = "background"
UNRECOGNISED: Final = "unrecognised"

LIVE_COLUMNS: Final = ("time", "name", "power_w", "running")
NEWS_COLUMNS: Final = ("time", "kind", "subject", "certainty")


class ShownRow(NamedTuple):
    """One name from a moment on: its power in whole W (None: not known), and if it runs."""

    at_s: float
    name: str
    power_w: int | None
    running: bool

    def cells(self) -> tuple[str, ...]:
        """Return the row as the table has it; what is not known is empty."""
        power = "" if self.power_w is None else str(self.power_w)
        return _time(self.at_s), self.name, power, str(int(self.running))


class HeardRow(NamedTuple):
    """Something that automations hear; `certainty` 0 to 1, None where it is no guess."""

    at_s: float
    kind: str
    subject: str
    certainty: float | None

    def cells(self) -> tuple[str, ...]:
        """Return the row as the table has it; what is not known is empty."""
        sure = "" if self.certainty is None else f"{self.certainty:.2f}"
        return _time(self.at_s), self.kind, self.subject, sure


class ShownTable:
    """Notes what is shown, a row whenever it changes."""

    def __init__(self, note: Callable[[ShownRow], object]) -> None:
        """Start with an empty screen; `note` is called with each row."""
        self._note = note
        self._rows: dict[str, ShownRow] = {}

    def look(self, at_s: float, view: LiveView) -> None:
        """Take what is shown at a time."""
        for now in view.appliances:
            power_w = None if view.load_w is None else now.power_w
            self._take(at_s, now.name, power_w, running=now.running)
        for name, w in (
            (BACKGROUND, view.background_w),
            (UNRECOGNISED, view.unassigned_w),
        ):
            self._take(at_s, name, w, running=(w or 0.0) >= 0.5)

    def _take(
        self, at_s: float, name: str, power_w: float | None, *, running: bool
    ) -> None:
        row = ShownRow(at_s, name, None if power_w is None else round(power_w), running)
        before = self._rows.get(name)
        if before is None or before[2:] != row[2:]:
            self._rows[name] = row
            self._note(row)


class HeardTable:
    """Notes what automations hear."""

    def __init__(self, boat: Boat, note: Callable[[HeardRow], object]) -> None:
        """Start with nothing told; `note` is called with each row."""
        self._watch = OccurrenceWatch(boat)
        self._filter = EventFilter()
        self._note = note

    def look(self, at_s: float, view: LiveView) -> None:
        """Take what is shown at a time."""
        occurrences = self._watch.observe(Facts(view.at_s, view))
        self._say(at_s, self._filter.observe(view.at_s, occurrences))

    def settle(self, at_s: float, events: list[Event]) -> None:
        """Take what has become settled at a time."""
        for event in events:
            if isinstance(event, RunSettled):
                self._watch.settle_run(event.run)
            elif isinstance(event, MealSettled):
                meal = self._watch.settle_meal(event.meal)
                self._say(at_s, self._filter.take([meal]))

    def _say(self, at_s: float, events: Iterable[AutomationEvent]) -> None:
        for event in events:
            certainty = event.certainty if event.kind in OF_RUNS else None
            self._note(HeardRow(at_s, event.kind.value, event.subject, certainty))


def _time(at_s: float) -> str:
    return iso_time(at_s) or ""
