"""Triggers: what a galley does, in the words that an automation is written in."""

from typing import Any, ClassVar, Final, override

from homeassistant.components.event import DOMAIN as EVENT_DOMAIN
from homeassistant.const import CONF_OPTIONS
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.automation import DomainSpec
from homeassistant.helpers.trigger import (
    ENTITY_STATE_TRIGGER_SCHEMA,
    NotTriggeredReasonReporter,
    StatelessEntityTriggerBase,
    Trigger,
    TriggerConfig,
)
import probatio

from .entities.occurrence_events import (
    KEY_ACTIVITY,
    KEY_ADVICE,
    KEY_MEAL,
    KEY_WARNING,
    VERDICTS,
)
from .entities.our_entities import with_key

CONF_ADVICE: Final = "advice"
ANY: Final = "any"

ADVICE_CHANGED_SCHEMA = ENTITY_STATE_TRIGGER_SCHEMA.extend(
    {
        probatio.Required(CONF_OPTIONS, default=dict): {
            probatio.Required(CONF_ADVICE, default=ANY): probatio.In([ANY, *VERDICTS])
        }
    }
)


class OccurrenceTrigger(StatelessEntityTriggerBase):
    """Fires when one of our event entities reports something of a certain type."""

    _domain_specs = {EVENT_DOMAIN: DomainSpec()}
    _key: ClassVar[str]
    _types: frozenset[str]

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        """Keep our own event entities of the right sort."""
        return with_key(self._hass, super().entity_filter(entities), self._key)

    @override
    def is_valid_state(
        self, state: State, report_not_triggered: NotTriggeredReasonReporter
    ) -> bool:
        """Check the type of the event."""
        return state.attributes.get("event_type") in self._types


class AdviceChangedTrigger(OccurrenceTrigger):
    """Fires when the advice on the planned dish changes, to any verdict or to one."""

    _schema = ADVICE_CHANGED_SCHEMA
    _key = KEY_ADVICE

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Read which verdict is waited for."""
        super().__init__(hass, config)
        wanted: Any = self._options[CONF_ADVICE]
        self._types = frozenset(VERDICTS if wanted == ANY else [wanted])


def _occurrence_trigger(key: str, event_type: str) -> type[Trigger]:
    class KeyedTrigger(OccurrenceTrigger):
        """Fires on one type of one sort of event."""

        _key = key
        _types = frozenset({event_type})

    return KeyedTrigger


TRIGGERS: dict[str, type[Trigger]] = {
    "appliance_started": _occurrence_trigger(KEY_ACTIVITY, "started"),
    "appliance_at_temperature": _occurrence_trigger(KEY_ACTIVITY, "at_temperature"),
    "appliance_finished": _occurrence_trigger(KEY_ACTIVITY, "finished"),
    "appliance_left_running": _occurrence_trigger(KEY_ACTIVITY, "left_running"),
    "meal_finished": _occurrence_trigger(KEY_MEAL, "finished"),
    "advice_changed": AdviceChangedTrigger,
    "standby_left_on": _occurrence_trigger(KEY_WARNING, "standby_left_on"),
    "reserve_at_risk": _occurrence_trigger(KEY_WARNING, "reserve_at_risk"),
    "overload_near": _occurrence_trigger(KEY_WARNING, "overload_near"),
}


async def async_get_triggers(hass: HomeAssistant) -> dict[str, type[Trigger]]:
    """Return the triggers of a galley."""
    return TRIGGERS
