"""Conditions: is somebody cooking, does an appliance run, what is the advice."""

from typing import ClassVar, Final, override

from homeassistant.components.binary_sensor import DOMAIN as BINARY_SENSOR_DOMAIN
from homeassistant.components.sensor import DOMAIN as SENSOR_DOMAIN
from homeassistant.const import CONF_FOR, CONF_OPTIONS, STATE_ON, STATE_UNAVAILABLE
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.automation import DomainSpec
from homeassistant.helpers.condition import (
    ATTR_BEHAVIOR,
    BEHAVIOR_ALL,
    BEHAVIOR_ANY,
    ENTITY_STATE_CONDITION_SCHEMA_ANY_ALL,
    Condition,
    ConditionConfig,
    EntityStateConditionBase,
)
import probatio

from .core.advice import Verdict
from .entities.our_entities import with_key

CONF_ADVICE: Final = "advice"

ADVICE_IS_SCHEMA = ENTITY_STATE_CONDITION_SCHEMA_ANY_ALL.extend(
    {
        probatio.Required(CONF_OPTIONS): {
            probatio.Required(ATTR_BEHAVIOR, default=BEHAVIOR_ANY): probatio.In(
                [BEHAVIOR_ANY, BEHAVIOR_ALL]
            ),
            probatio.Optional(CONF_FOR): cv.positive_time_period,
            probatio.Required(CONF_ADVICE): probatio.All(
                probatio.EnsureList(),
                probatio.Length(min=1),
                [probatio.In([verdict.value for verdict in Verdict])],
            ),
        }
    }
)


class KeyedCondition(EntityStateConditionBase):
    """Tests the state of our own entities of one sort."""

    _key: ClassVar[str]

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        """Keep our own entities of the right sort."""
        return with_key(self._hass, super().entity_filter(entities), self._key)


class CookingCondition(KeyedCondition):
    """Whether somebody cooks."""

    _domain_specs = {BINARY_SENSOR_DOMAIN: DomainSpec()}
    _key = "cooking"
    _states = {STATE_ON}


class RunningCondition(CookingCondition):
    """Whether an appliance runs."""

    _key = "running"


class AdviceIsCondition(KeyedCondition):
    """Whether the advice on the planned dish is one of those chosen."""

    _domain_specs = {SENSOR_DOMAIN: DomainSpec()}
    _key = "advice"
    _schema = ADVICE_IS_SCHEMA

    def __init__(self, hass: HomeAssistant, config: ConditionConfig) -> None:
        """Read which verdicts are meant."""
        super().__init__(hass, config)
        self._states = set((config.options or {})[CONF_ADVICE])

    @override
    def _should_include(self, _state: State) -> bool:
        """Not to know is an advice too; an entity that is away is none."""
        return _state.state != STATE_UNAVAILABLE


CONDITIONS: dict[str, type[Condition]] = {
    "is_cooking": CookingCondition,
    "appliance_is_running": RunningCondition,
    "advice_is": AdviceIsCondition,
}


async def async_get_conditions(hass: HomeAssistant) -> dict[str, type[Condition]]:
    """Return the conditions of a galley."""
    return CONDITIONS
