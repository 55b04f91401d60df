"""What a crew would have seen of a history while it happened, and what they would have heard.

Rows of two tables, without hindsight: what was shown at a time stands there as it was
shown then, however it was understood later.
"""

from collections.abc import Callable, Iterable
from typing import Final, NamedTuple

from ..boat.boat import Boat
from ..events import Event
from ..live.live_view import LiveView
from ..occasions.facts import Facts
from ..occasions.news_item import News
from ..occasions.news_watch import NewsWatch
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


class Shown:
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


class Heard:
    """Notes what automations hear."""

    def __init__(self, boat: Boat, note: Callable[[HeardRow], object]) -> None:
        """Start with nothing told; `note` is called with each row."""
        self._watch = NewsWatch(boat)
        self._note = note
        self._sure: dict[str, float] = {}

    def look(self, at_s: float, view: LiveView) -> None:
        """Take what is shown at a time."""
        for now in view.appliances:
            if now.running:
                self._sure[now.name] = now.confidence
        self._say(at_s, self._watch.observe(Facts(view.at_s, view)))

    def settle(self, at_s: float, events: list[Event]) -> None:
        """Take what has become settled at a time."""
        self._say(at_s, self._watch.settle(events))

    def _say(self, at_s: float, news: Iterable[News]) -> None:
        for one in news:
            kind = one.kind.value.removeprefix("appliance_")
            self._note(HeardRow(at_s, kind, one.subject, self._sure.get(one.subject)))


def _time(at_s: float) -> str:
    return iso_time(at_s) or ""
