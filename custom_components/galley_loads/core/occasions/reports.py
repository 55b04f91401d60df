"""The watcher with its two filters: what automations hear and what the crew reads."""

from collections.abc import Collection, Mapping
from typing import Any

from ..advice import Verdict
from ..boat.boat import Boat
from ..boat.quiet_hours import QuietHours
from ..meals.meal_builder import Meal
from .event_filter import AutomationEvent, EventFilter
from .facts import Facts
from .meal_occurrences import PlannedMeal
from .message_filter import MESSAGE_KINDS, Message, MessageFilter
from .occurrence import OccurrenceKind
from .occurrence_watch import OccurrenceWatch


class Reports:
    """What is reported of one boat: every event and message is of the same occurrence."""

    def __init__(
        self,
        boat: Boat,
        kinds: Collection[OccurrenceKind] = frozenset(MESSAGE_KINDS),
        quiet_hours: QuietHours | None = None,
    ) -> None:
        """Send people messages of the chosen kinds; automations hear of all."""
        self.watch = OccurrenceWatch(boat)
        self._events = EventFilter()
        self._messages = MessageFilter(boat.time_zone, kinds, quiet_hours)

    def observe(self, facts: Facts) -> tuple[list[AutomationEvent], list[Message]]:
        """Take a moment; return what automations hear of it, and what is sent."""
        occurrences = self.watch.observe(facts)
        return (
            self._events.observe(facts.at_s, occurrences),
            self._messages.observe(facts.at_s, occurrences),
        )

    def settle_meal(
        self, meal: Meal, planned: PlannedMeal | None = None
    ) -> list[AutomationEvent]:
        """Take a meal that is over; people read of it at the next moment."""
        return self._events.take([self.watch.settle_meal(meal, planned)])

    def advise(
        self, at_s: float, dish: str, verdict: Verdict, certainty: float = 1.0
    ) -> list[AutomationEvent]:
        """Take the advice on the planned dish; return a change of it, if it is one."""
        return self._events.take(self.watch.advise(at_s, dish, verdict, certainty))

    @property
    def shown(self) -> tuple[str, ...]:
        """The tags of messages that were sent and not taken back."""
        return self._messages.shown

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "watch": self.watch.snapshot(),
            "events": self._events.snapshot(),
            "messages": self._messages.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot` of the same boat or an earlier form of it."""
        self.watch.restore(state["watch"])
        self._events.restore(state["events"])
        self._messages.restore(state["messages"])
