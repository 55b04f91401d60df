"""Events: what appliances, meals and advice do, each told once."""

from dataclasses import dataclass
from typing import Final, override

from homeassistant.components.event import EventEntity, EventEntityDescription
from homeassistant.core import callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from ..const import SUBENTRY_APPLIANCE
from ..core.advice import Verdict
from ..core.occasions.news_item import News, NewsKind
from ..entity import ApplianceEntity, BoatEntity, GalleyEntity
from ..runtime import GalleyConfigEntry
from ..watch.herald import attributes_of

KEY_ACTIVITY: Final = "activity"
KEY_MEAL: Final = "meal"
KEY_ADVICE: Final = "advice_change"
KEY_WARNING: Final = "warning"

TYPE_AT_TEMPERATURE: Final = "at_temperature"


@dataclass(frozen=True, kw_only=True)
class GalleyEventDescription(EventEntityDescription):
    """Which news an entity tells, and as which type; types by kind of news."""

    types: dict[NewsKind, str]


ACTIVITY = GalleyEventDescription(
    key=KEY_ACTIVITY,
    translation_key=KEY_ACTIVITY,
    types={
        NewsKind.APPLIANCE_STARTED: "started",
        NewsKind.APPLIANCE_AT_TEMPERATURE: TYPE_AT_TEMPERATURE,
        NewsKind.APPLIANCE_FINISHED: "finished",
        NewsKind.APPLIANCE_LEFT_RUNNING: "left_running",
    },
)

BOAT_EVENTS: tuple[GalleyEventDescription, ...] = (
    GalleyEventDescription(
        key=KEY_MEAL,
        translation_key=KEY_MEAL,
        types={
            NewsKind.MEAL_FINISHED: "finished",
            NewsKind.HOT_DRINK_FINISHED: "hot_drink",
        },
    ),
    GalleyEventDescription(
        key=KEY_WARNING,
        translation_key=KEY_WARNING,
        types={
            NewsKind.STANDBY_LEFT_ON: "standby_left_on",
            NewsKind.RESERVE_AT_RISK: "reserve_at_risk",
            NewsKind.OVERLOAD_NEAR: "overload_near",
        },
    ),
)

# Its types are the verdicts themselves.
ADVICE = GalleyEventDescription(
    key=KEY_ADVICE, translation_key=KEY_ADVICE, types={NewsKind.ADVICE_CHANGED: ""}
)

VERDICTS: Final = [
    verdict.value for verdict in Verdict if verdict is not Verdict.UNKNOWN
]


@callback
def async_add_news_events(
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


class NewsEvent(GalleyEntity, EventEntity):
    """Tells news of certain kinds; it is there whatever the sensors do."""

    entity_description: GalleyEventDescription

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to the news."""
        await super().async_added_to_hass()
        self.async_on_remove(self.runtime.herald.async_subscribe(self._async_take_news))

    @property
    @override
    def event_types(self) -> list[str]:
        """What this entity may tell."""
        return list(self.entity_description.types.values())

    @override
    def _refresh(self) -> bool:
        self._attr_available = True
        return False

    @callback
    def _async_take_news(self, news: News) -> None:
        if news.kind in self.entity_description.types and self._concerns(news):
            attributes = self._attributes(news)
            self._trigger_event(self._type(news), attributes)
            self.async_write_ha_state()

    def _concerns(self, news: News) -> bool:
        return True

    def _type(self, news: News) -> str:
        return self.entity_description.types[news.kind]

    def _attributes(self, news: News) -> dict[str, object]:
        return attributes_of(news)


class BoatEvent(BoatEntity, NewsEvent):
    """An event of the boat; says in `subject` what it is about."""

    @override
    def _attributes(self, news: News) -> dict[str, object]:
        subject = {"subject": news.subject} if news.subject else {}
        return subject | attributes_of(news)


class AdviceEvent(BoatEvent):
    """The advice on the planned dish has changed; the new verdict is the type."""

    @property
    @override
    def event_types(self) -> list[str]:
        """The verdicts."""
        return VERDICTS

    @override
    def _type(self, news: News) -> str:
        return str(news.details["verdict"])


class ApplianceEvent(ApplianceEntity, NewsEvent):
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
    def _concerns(self, news: News) -> bool:
        return news.subject == self.appliance_name
