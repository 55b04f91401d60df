"""Events: what appliances, meals and advice do, each reported once."""

from dataclasses import dataclass
from typing import Final, override

from homeassistant.components.event import EventEntity, EventEntityDescription
from homeassistant.core import callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from ..const import SUBENTRY_APPLIANCE
from ..core.advice import Verdict
from ..core.occasions.event_filter import AutomationEvent
from ..core.occasions.occurrence import OccurrenceKind
from ..entity import ApplianceEntity, BoatEntity, GalleyEntity
from ..runtime import GalleyConfigEntry
from ..watch.event_reports import attributes_of

KEY_ACTIVITY: Final = "activity"
KEY_MEAL: Final = "meal"
KEY_ADVICE: Final = "advice_change"
KEY_WARNING: Final = "warning"

TYPE_AT_TEMPERATURE: Final = "at_temperature"


@dataclass(frozen=True, kw_only=True)
class GalleyEventDescription(EventEntityDescription):
    """Which occurrences an entity reports, and as which type; types by kind of event."""

    types: dict[OccurrenceKind, str]


ACTIVITY = GalleyEventDescription(
    key=KEY_ACTIVITY,
    translation_key=KEY_ACTIVITY,
    types={
        OccurrenceKind.STARTED: "started",
        OccurrenceKind.AT_TEMPERATURE: TYPE_AT_TEMPERATURE,
        OccurrenceKind.FINISHED: "finished",
        OccurrenceKind.LEFT_RUNNING: "left_running",
    },
)

BOAT_EVENTS: tuple[GalleyEventDescription, ...] = (
    GalleyEventDescription(
        key=KEY_MEAL,
        translation_key=KEY_MEAL,
        types={
            OccurrenceKind.MEAL_FINISHED: "finished",
            OccurrenceKind.HOT_DRINK_FINISHED: "hot_drink",
        },
    ),
    GalleyEventDescription(
        key=KEY_WARNING,
        translation_key=KEY_WARNING,
        types={
            OccurrenceKind.STANDBY_LEFT_ON: "standby_left_on",
            OccurrenceKind.RESERVE_AT_RISK: "reserve_at_risk",
            OccurrenceKind.OVERLOAD_NEAR: "overload_near",
        },
    ),
)

# Its types are the verdicts themselves.
ADVICE = GalleyEventDescription(
    key=KEY_ADVICE,
    translation_key=KEY_ADVICE,
    types={OccurrenceKind.ADVICE_CHANGED: ""},
)

VERDICTS: Final = [
    verdict.value for verdict in Verdict if verdict is not Verdict.UNKNOWN
]


@callback
def async_add_occurrence_events(
    entry: GalleyConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the boat's and the appliances' events."""
    runtime = entry.runtime_data
    boat: list[BoatEvent] = [BoatEvent(runtime, one) for one in BOAT_EVENTS]
    boat.append(AdviceEvent(runtime, ADVICE))
    async_add_entities(boat)
    for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE):
        async_add_entities(
            [ApplianceEvent(runtime, ACTIVITY, subentry)],
            config_subentry_id=subentry.subentry_id,
        )


class OccurrenceEvent(GalleyEntity, EventEntity):
    """Reports occurrences of certain kinds; it is there whatever the sensors do."""

    entity_description: GalleyEventDescription

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to the event."""
        await super().async_added_to_hass()
        self.async_on_remove(self.runtime.reports.async_subscribe(self._async_heard))

    @property
    @override
    def event_types(self) -> list[str]:
        """What this entity may report."""
        return list(self.entity_description.types.values())

    @override
    def _refresh(self) -> bool:
        self._attr_available = True
        return False

    @callback
    def _async_heard(self, event: AutomationEvent) -> None:
        if event.kind in self.entity_description.types and self._concerns(event):
            attributes = self._attributes(event)
            self._trigger_event(self._type(event), attributes)
            self.async_write_ha_state()

    def _concerns(self, event: AutomationEvent) -> bool:
        return True

    def _type(self, event: AutomationEvent) -> str:
        return self.entity_description.types[event.kind]

    def _attributes(self, event: AutomationEvent) -> dict[str, object]:
        return attributes_of(event)


class BoatEvent(BoatEntity, OccurrenceEvent):
    """An event of the boat; says in `subject` what it is about."""

    @override
    def _attributes(self, event: AutomationEvent) -> dict[str, object]:
        subject = {"subject": event.subject} if event.subject else {}
        return subject | attributes_of(event)


class AdviceEvent(BoatEvent):
    """The advice on the planned dish has changed; the new verdict is the type."""

    @property
    @override
    def event_types(self) -> list[str]:
        """The verdicts."""
        return VERDICTS

    @override
    def _type(self, event: AutomationEvent) -> str:
        return str(event.details["verdict"])


class ApplianceEvent(ApplianceEntity, OccurrenceEvent):
    """An event of an appliance."""

    @property
    @override
    def event_types(self) -> list[str]:
        """What this kind of appliance may do."""
        traits = self.coordinator.boat.appliance(self.appliance_name).kind.traits
        return [
            one
            for one in self.entity_description.types.values()
            if one != TYPE_AT_TEMPERATURE or traits.reaches_temperature
        ]

    @override
    def _concerns(self, event: AutomationEvent) -> bool:
        return event.subject == self.appliance_name
