"""What has occurred on one boat, handed to automations and sent to the crew."""

from collections.abc import Callable, Iterable, Mapping

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback

from ..core.advice import Advice
from ..core.boat.boat import Boat
from ..core.cutting import CutFacts
from ..core.events import Event, MealSettled, RunSettled
from ..core.meals.expected_meals import ExpectedMeals
from ..core.occasions.event_filter import AutomationEvent
from ..core.occasions.facts import facts_of
from ..core.occasions.meal_occurrences import PlannedMeal
from ..core.occasions.message_filter import Message
from ..state.listeners import Listeners
from .night_ahead import NightAhead
from .notifications import Notifier
from .watch_state import WatchState

type MessageListener = Callable[[Message], None]
type EventListener = Callable[[AutomationEvent], None]


class OccurrenceReports:
    """Hands each event and each message to those who listen, and sends the messages."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        boat: Boat,
        state: WatchState,
        expected: ExpectedMeals,
        night: NightAhead,
        notifier: Notifier,
    ) -> None:
        """Go on from the state of the reports."""
        self._hass = hass
        self._entry = entry
        self._boat = boat
        self._state = state
        self._expected = expected
        self._night = night
        self._notifier = notifier
        self._rules = state.rules
        self._reports = state.reports
        self._messages = Listeners[Message]()
        self._events = Listeners[AutomationEvent]()

    @callback
    def async_listen_messages(self, listener: MessageListener) -> CALLBACK_TYPE:
        """Call `listener` with every message to the crew."""
        return self._messages.async_add(listener)

    @callback
    def async_listen_events(self, listener: EventListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that automations may hear."""
        return self._events.async_add(listener)

    @callback
    def async_observe(self, moment: CutFacts) -> None:
        """Look at the present; report and send what has occurred."""
        idle_since_s = {
            c.name: self._rules.idle_since_s(c.name) for c in self._boat.circuits
        }
        facts = facts_of(self._boat, moment, idle_since_s, self._night.outlook)
        events, messages = self._reports.observe(facts)
        self._report(events)
        self._send(messages)

    @callback
    def async_settled(self, events: list[Event], is_news: bool) -> None:
        """Take what has become certain."""
        for event in events:
            if isinstance(event, RunSettled):
                self._reports.watch.settle_run(event.run)
            elif isinstance(event, MealSettled) and is_news:
                planned = self._expected.of(event.meal)
                expected_ah = None if planned is None else planned.expected_ah
                known = PlannedMeal(self._expected.reckon(event.meal), expected_ah)
                self._report(self._reports.settle_meal(event.meal, known))

    @callback
    def async_planned(self) -> None:
        """Take that the crew has planned another dish, or none."""
        self._reports.watch.plan()

    @callback
    def async_advised(self, advice: Advice) -> None:
        """Take the advice on the planned dish."""
        self._report(
            self._reports.advise(
                advice.at_s, advice.dish, advice.verdict, advice.confidence
            )
        )

    @callback
    def async_recall(self, minutes: Mapping[str, Iterable[float]]) -> None:
        """Take how long appliances have run before, by name."""
        self._reports.watch.recall(minutes)

    def _report(self, events: list[AutomationEvent]) -> None:
        for event in events:
            self._events.async_notify(event)

    def _send(self, messages: list[Message]) -> None:
        if not messages:
            return
        for message in messages:
            self._messages.async_notify(message)
        self._entry.async_create_background_task(
            self._hass,
            self._notifier.async_send(messages),
            f"{self._entry.title} messages",
        )
        self._state.async_save_soon()
