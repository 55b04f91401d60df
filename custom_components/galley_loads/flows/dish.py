"""The forms of a dish: what it is, then the minutes of each appliance."""

from typing import Any, ClassVar

from homeassistant.config_entries import SubentryFlowResult
from homeassistant.const import CONF_NAME, UnitOfEnergy, UnitOfTime
from homeassistant.helpers.selector import TextSelector, TimeSelector
import probatio

from ..const import CONF_APPLIANCES, SUBENTRY_APPLIANCE, SUBENTRY_DISH
from .fields import number_field, part_field
from .forms import section_of
from .part_flow import PartFlow, named_answers

PROBE_MINUTES = 1.0
"""Stands for minutes that are not asked for yet, while the rest is checked."""


class DishFlow(PartFlow):
    """Adds or changes a dish."""

    part_type: ClassVar[str] = SUBENTRY_DISH

    def __init__(self) -> None:
        """Start without answers."""
        self._name = ""
        self._dish: dict[str, Any] = {}
        self._chosen: list[str] = []

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add a dish."""
        return await self._async_step("user", user_input)

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change a dish."""
        return await self._async_step("reconfigure", user_input)

    def _form(self) -> probatio.Schema:
        return probatio.Schema(
            {
                probatio.Required(CONF_NAME): TextSelector(),
                probatio.Optional(CONF_APPLIANCES): part_field(
                    self.parts(SUBENTRY_APPLIANCE), several=True
                ),
                probatio.Optional("energy"): number_field(UnitOfEnergy.WATT_HOUR),
                probatio.Optional("ready_by"): TimeSelector(),
            }
        )

    async def _async_step(
        self, step: str, user_input: dict[str, Any] | None
    ) -> SubentryFlowResult:
        form = self._form()
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        suggested: dict[str, Any] | None = user_input
        if user_input is not None:
            self._dish = section_of(user_input)
            self._name = self._dish.pop(CONF_NAME, "").strip()
            self._chosen = self._dish.pop(CONF_APPLIANCES, [])
            probe = dict(self._dish)
            if self._chosen:
                probe[CONF_APPLIANCES] = dict.fromkeys(self._chosen, PROBE_MINUTES)
            errors, placeholders = await self.async_errors(self._name, probe, form)
            if not errors and self._chosen:
                return await self.async_step_minutes()
            if not errors:
                return self.finish(self._name, self._dish)
        elif (changed := self._changed) is not None:
            suggested = named_answers(changed)
            suggested[CONF_APPLIANCES] = list(suggested.get(CONF_APPLIANCES, {}))
        return self.show(step, form, suggested, errors, placeholders)

    async def async_step_minutes(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask how long each appliance is on.

        The fields are the boat's own appliances, so their labels are their names.
        """
        names = {
            part.part_id: part.name
            for part in self.parts(SUBENTRY_APPLIANCE)
            if part.part_id in self._chosen
        }
        form = probatio.Schema(
            {
                probatio.Required(name): number_field(UnitOfTime.MINUTES)
                for name in names.values()
            }
        )
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        if user_input is not None:
            minutes = {part_id: user_input[name] for part_id, name in names.items()}
            dish = {**self._dish, CONF_APPLIANCES: minutes}
            errors, placeholders = await self.async_errors(self._name, dish, form)
            if not errors:
                return self.finish(self._name, dish)
        before = {} if self._changed is None else self._changed.data
        known = before.get(CONF_APPLIANCES, {})
        suggested = user_input or {
            name: known[part_id] for part_id, name in names.items() if part_id in known
        }
        placeholders |= {"dish": self._name}
        return self.show("minutes", form, suggested, errors, placeholders)
