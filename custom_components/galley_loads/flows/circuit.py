"""The form of a circuit."""

from typing import Any, ClassVar, Final

from homeassistant.config_entries import SubentryFlowResult
from homeassistant.const import (
    CONF_NAME,
    UnitOfElectricCurrent,
    UnitOfElectricPotential,
    UnitOfTime,
)
from homeassistant.helpers.selector import BooleanSelector, TextSelector
import probatio

from ..boat.sensor_check import Quantity, exists
from ..const import CONF_RELAY, SUBENTRY_CIRCUIT
from ..core.boat.boat import CutRule
from .fields import entity_field, number_field, word_field
from .forms import section_of
from .part_flow import PartFlow, named_answers

CIRCUIT_FORM: Final = probatio.Schema(
    {
        probatio.Required(CONF_NAME): TextSelector(),
        probatio.Required("breaker_current"): number_field(
            UnitOfElectricCurrent.AMPERE
        ),
        probatio.Required("voltage"): number_field(UnitOfElectricPotential.VOLT, 0.1),
        probatio.Optional("other_loads"): BooleanSelector(),
        probatio.Optional(CONF_RELAY): entity_field(Quantity.SWITCH),
        probatio.Optional("idle_minutes"): number_field(UnitOfTime.MINUTES),
        probatio.Optional("cut"): word_field(CutRule, "cut"),
    }
)

SUGGESTED: Final = {"idle_minutes": 10, "cut": CutRule.NEVER.value}


class CircuitFlow(PartFlow):
    """Adds or changes a circuit."""

    part_type: ClassVar[str] = SUBENTRY_CIRCUIT

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add a circuit."""
        return await self._async_step("user", user_input)

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change a circuit."""
        return await self._async_step("reconfigure", user_input)

    async def _async_step(
        self, step: str, user_input: dict[str, Any] | None
    ) -> SubentryFlowResult:
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        suggested: dict[str, Any] | None = user_input
        if user_input is not None:
            data = section_of(user_input)
            name = data.pop(CONF_NAME, "").strip()
            errors, placeholders = await self.async_errors(name, data, CIRCUIT_FORM)
            relay = data.get(CONF_RELAY)
            if not errors and relay and not exists(self.hass, relay):
                errors = {CONF_RELAY: "sensor_missing"}
            if not errors and relay:
                errors, placeholders = self.claim_errors(CONF_RELAY, relay)
            if not errors and not relay and data.get("cut", "never") != "never":
                errors = {CONF_RELAY: "relay_needed"}
            if not errors:
                return self.finish(name, data)
        elif (changed := self._changed) is not None:
            suggested = named_answers(changed)
        else:
            suggested = dict(SUGGESTED)
        return self.show(step, CIRCUIT_FORM, suggested, errors, placeholders)
