"""Events of the watch: what happens about a circuit's relay, and what the crew is sent."""

from typing import Any, Final, override

from homeassistant.components.event import EventEntity, EventEntityDescription
from homeassistant.core import callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from ..core.cutting import (
    AnswerRejected,
    Ask,
    Cut,
    Kept,
    NotVerified,
    Outcome,
    QuestionOver,
    Refused,
    Stuck,
    Verified,
)
from ..core.occasions.message_filter import MESSAGE_KINDS, Message, Say
from ..entity import BoatEntity
from ..language.alert_texts import words
from ..language.speech import english
from ..runtime import GalleyConfigEntry
from .circuit_entity import CircuitEntity, circuits_with_relay

CUTTING: Final = EventEntityDescription(
    key="cutting",
    translation_key="cutting",
    event_types=[
        "asked",
        "cut",
        "verified",
        "not_verified",
        "stuck",
        "refused",
        "kept",
    ],
)

ALERT: Final = EventEntityDescription(
    key="alert",
    translation_key="alert",
    entity_registry_enabled_default=False,
    event_types=[kind.value for kind in MESSAGE_KINDS],
)


@callback
def async_add_watch_events(
    entry: GalleyConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the boat's and the circuits' events."""
    runtime = entry.runtime_data
    async_add_entities([AlertEvent(runtime, ALERT)])
    for subentry in circuits_with_relay(entry):
        async_add_entities(
            [CuttingEvent(runtime, CUTTING, subentry)],
            config_subentry_id=subentry.subentry_id,
        )


def event_of(outcome: Outcome) -> tuple[str, dict[str, Any]] | None:
    """Return the event type and its data of what the rules said, None for none."""
    match outcome:
        case Cut(_, _, by, standby_w):
            return "cut", {"by": by.value, "standby_w": standby_w}
        case Ask(_, _, _, standby_w):
            return "asked", {"standby_w": standby_w}
        case Refused(_, _, by, reason):
            return "refused", {"by": by.value, "reason": reason.value}
        case Verified(_, _, fell_w):
            return "verified", {"fell_w": fell_w}
        case NotVerified(_, _, why):
            return "not_verified", {"reason": why.value}
        case Stuck(_, _, trouble):
            return "stuck", {"reason": trouble.value}
        case Kept(_, _, until_s, switched_back):
            until = dt_util.utc_from_timestamp(round(until_s)).isoformat()
            return "kept", {"until": until, "switched_back": switched_back}
        case QuestionOver() | AnswerRejected():
            return None


class CuttingEvent(CircuitEntity, EventEntity):
    """What happens about a circuit's relay."""

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to the rules."""
        await super().async_added_to_hass()
        self.async_on_remove(self.circuits.async_listen_outcomes(self._async_hear))

    @callback
    def _async_hear(self, outcome: Outcome) -> None:
        if getattr(outcome, "circuit", None) != self.circuit_name:
            return
        if (event := event_of(outcome)) is not None:
            self._trigger_event(*event)
            self.async_write_ha_state()

    @override
    def _refresh(self) -> bool:
        changed = not self._attr_available
        self._attr_available = True
        return changed


class AlertEvent(BoatEntity, EventEntity):
    """What the crew is sent, for automations that pass it on in their own way."""

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to the messages."""
        await super().async_added_to_hass()
        occurrences = self.runtime.occurrences
        self.async_on_remove(occurrences.async_listen_messages(self._async_hear))

    @callback
    def _async_hear(self, message: Message) -> None:
        if isinstance(message, Say):
            zone = self.coordinator.boat.time_zone
            title, text = words(message.occurrence, english(zone))
            self._trigger_event(
                message.kind.value,
                {
                    "subject": message.subject,
                    "title": title,
                    "message": text,
                    "urgent": message.urgent,
                },
            )
            self.async_write_ha_state()

    @override
    def _refresh(self) -> bool:
        changed = not self._attr_available
        self._attr_available = True
        return changed
