"""The repair of a load that recurs unnamed: it becomes an appliance of the boat."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry, ConfigEntryState, ConfigSubentry
from homeassistant.const import CONF_NAME, UnitOfPower
from homeassistant.helpers.selector import TextSelector
import probatio

from ..boat.boat_entry import BoatPart, boat_mapping, parts_of, subentry_unique_id
from ..const import (
    CONF_APPLIANCES,
    CONF_CIRCUIT,
    DOMAIN,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
    SUBENTRY_DISH,
)
from ..core.boat.boat_problems import Problem
from ..core.boat.boat_schema import boat_problems
from ..core.kinds.catalogue import KINDS
from ..flows.fields import number_field, part_field, word_field
from ..flows.forms import form_errors, section_of

CONF_KIND: Final = "kind"
CONF_RATED_POWER: Final = "rated_power"

NEW_PART_ID: Final = "new"


class RecurringLoadFlow(RepairsFlow):
    """Asks what the load is, and adds it."""

    def __init__(
        self, entry_id: str, load: str, power_w: float, duration_s: float
    ) -> None:
        """Remember which load of which boat it is about."""
        self._entry_id = entry_id
        self._load = load
        self._power_w = power_w
        self._duration_s = duration_s

    async def async_step_init(self, _: Any = None) -> RepairsFlowResult:
        """Begin."""
        return await self.async_step_appliance()

    async def async_step_appliance(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Ask for name, kind and rating, and add the appliance."""
        entry = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None or entry.domain != DOMAIN:
            return self.async_create_entry(data={})
        form = _form(entry)
        errors: dict[str, str] = {}
        placeholders: Mapping[str, str] = {"problem": ""}
        suggested: Mapping[str, Any] = {CONF_RATED_POWER: round(self._power_w, -1)}
        if user_input is not None:
            suggested = user_input
            data = section_of(user_input)
            name = data.pop(CONF_NAME, "").strip()
            problems = await self._async_problems(entry, name, data)
            errors, placeholders = form_errors(problems, form)
            if not errors:
                await self._async_forget(entry)
                self._add(entry, name, data)
                return self.async_create_entry(data={})
        return self.async_show_form(
            step_id="appliance",
            data_schema=self.add_suggested_values_to_schema(form, suggested),
            errors=errors,
            description_placeholders={
                "boat": entry.title,
                "load": self._load,
                **placeholders,
            },
        )

    async def _async_problems(
        self, entry: ConfigEntry, name: str, data: Mapping[str, Any]
    ) -> list[Problem]:
        """Return what is wrong with the appliance as it would stand in the boat."""
        appliances = parts_of(entry, SUBENTRY_APPLIANCE)
        mapping = boat_mapping(
            entry.data,
            entry.options,
            [*appliances, BoatPart(NEW_PART_ID, name, data)],
            parts_of(entry, SUBENTRY_CIRCUIT),
            parts_of(entry, SUBENTRY_DISH),
        )
        problems = await self.hass.async_add_executor_job(boat_problems, mapping)
        here = (CONF_APPLIANCES, len(appliances))
        return [problem for problem in problems if problem.path[:2] == here]

    async def _async_forget(self, entry: ConfigEntry) -> None:
        """Let what was unnamed so far not be offered a second time."""
        if entry.state is ConfigEntryState.LOADED:
            await entry.runtime_data.coordinator.async_with_engine(
                lambda engine: engine.discovery.forget(self._power_w, self._duration_s)
            )

    def _add(self, entry: ConfigEntry, name: str, data: Mapping[str, Any]) -> None:
        self.hass.config_entries.async_add_subentry(
            entry,
            ConfigSubentry(
                data=MappingProxyType(dict(data)),
                subentry_type=SUBENTRY_APPLIANCE,
                title=name,
                unique_id=subentry_unique_id(SUBENTRY_APPLIANCE, name),
            ),
        )


def _form(entry: ConfigEntry) -> probatio.Schema:
    fields: dict[Any, Any] = {
        probatio.Required(CONF_NAME): TextSelector(),
        probatio.Required(CONF_KIND): word_field(KINDS, CONF_KIND),
        probatio.Required(CONF_RATED_POWER): number_field(UnitOfPower.WATT),
    }
    if circuits := parts_of(entry, SUBENTRY_CIRCUIT):
        fields[probatio.Optional(CONF_CIRCUIT)] = part_field(circuits)
    return probatio.Schema(fields)
