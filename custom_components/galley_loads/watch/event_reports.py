"""Reports events to automations: entities, the event bus and with it the logbook."""

from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from ..advice.advice_runner import AdviceRunner
from ..const import DOMAIN, EVENT_OCCURRENCE
from ..coordinator import GalleyCoordinator
from ..core.occasions.event_filter import AutomationEvent
from ..core.occasions.occurrence import OccurrenceKind
from ..language.alert_texts import overload_advice
from ..language.speech import english
from ..state.listeners import Listeners
from .occurrence_reports import EventListener, OccurrenceReports

IN_LOGBOOK: Final = frozenset(
    {
        OccurrenceKind.ADVICE_CHANGED,
        OccurrenceKind.STANDBY_LEFT_ON,
        OccurrenceKind.RESERVE_AT_RISK,
        OccurrenceKind.OVERLOAD_NEAR,
    }
)
"""Events that the logbook has a line for; runs and meals have one when they are settled."""


class EventReports:
    """Passes on what has occurred, each event once."""

    def __init__(
        self,
        hass: HomeAssistant,
        coordinator: GalleyCoordinator,
        advice: AdviceRunner,
        occurrences: OccurrenceReports,
    ) -> None:
        """Pass on nothing yet."""
        self._hass = hass
        self._coordinator = coordinator
        self._advice = advice
        self._occurrences = occurrences
        self._events = Listeners[AutomationEvent]()
        self._recalled = False

    @callback
    def async_start(self) -> None:
        """Listen as long as the boat is loaded."""
        entry = self._coordinator.config_entry
        entry.async_on_unload(self._occurrences.async_listen_events(self.async_report))
        entry.async_on_unload(self._advice.async_listen(self._async_advised))
        entry.async_on_unload(
            self._advice.async_listen_plans(self._occurrences.async_planned)
        )

    @callback
    def async_subscribe(self, listener: EventListener) -> CALLBACK_TYPE:
        """Call `listener` with each event, until unsubscribed."""
        return self._events.async_add(listener)

    @callback
    def _async_advised(self) -> None:
        """Take the advice on the planned dish, and once how long appliances usually run.

        The engine remembers that, not the watch.
        """
        if (result := self._advice.result) is None:
            return
        if not (self._recalled or self._coordinator.provisional):
            self._recalled = True
            runs = result.view.cookbook.runs
            self._occurrences.async_recall(
                {name: [row[0] for row in rows] for name, rows in runs.items()}
            )
        if (advice := result.advice) is not None:
            self._occurrences.async_advised(advice)

    @callback
    def async_report(self, event: AutomationEvent) -> None:
        """Pass on one event."""
        self._events.async_notify(event)
        if event.kind in IN_LOGBOOK:
            entry = self._coordinator.config_entry
            data: dict[str, Any] = {
                "entry_id": entry.entry_id,
                "boat": entry.title,
                "kind": event.kind.value,
                "subject": event.subject,
                "entity_id": self._entity_id(event.kind),
                **attributes_of(event),
            }
            self._hass.bus.async_fire(EVENT_OCCURRENCE, data)

    def _entity_id(self, kind: OccurrenceKind) -> str | None:
        """Return the event entity that reports this kind."""
        changed = kind is OccurrenceKind.ADVICE_CHANGED
        key = "advice_change" if changed else "warning"
        unique_id = f"{self._coordinator.config_entry.entry_id}_{key}"
        return er.async_get(self._hass).async_get_entity_id("event", DOMAIN, unique_id)


def attributes_of(event: AutomationEvent) -> dict[str, Any]:
    """Return the details of an event as an automation reads them.

    Times are ISO texts in UTC under the name without its unit: `started_s` is `started`.
    What to do about a load near a limit is said in words as well.
    """
    attributes = {
        key.removesuffix("_s"): _iso(value)
        if key.endswith("_s") and isinstance(value, float)
        else value
        for key, value in event.details.items()
        if value is not None
    }
    if event.kind is OccurrenceKind.OVERLOAD_NEAR and "used" in event.details:
        advice = overload_advice(event.details)
        attributes["advice"] = english(dt_util.UTC).say(advice)
    return attributes


def _iso(at_s: float) -> str:
    return dt_util.utc_from_timestamp(round(at_s)).isoformat()
