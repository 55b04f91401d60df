"""The repair of a load that recurs unnamed: it becomes an appliance of the boat."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry, ConfigEntryState, ConfigSubentry
from homeassistant.const import CONF_NAME

from ..boat.boat_entry import BoatPart, parts_of, subentry_unique_id
from ..const import DOMAIN, SUBENTRY_APPLIANCE, SUBENTRY_CIRCUIT
from ..flows.appliance import CONF_RATED_POWER, appliance_form
from ..flows.forms import form_errors, section_of
from ..flows.part_check import NEW_PART_ID, async_part_problems


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
        form = appliance_form(parts_of(entry, SUBENTRY_CIRCUIT))
        errors: dict[str, str] = {}
        placeholders: Mapping[str, str] = {"problem": ""}
        suggested: Mapping[str, Any] = {CONF_RATED_POWER: round(self._power_w, -1)}
        if user_input is not None:
            suggested = user_input
            data = section_of(user_input)
            name = data.pop(CONF_NAME, "").strip()
            part = BoatPart(NEW_PART_ID, name, data)
            problems = await async_part_problems(
                self.hass, entry, SUBENTRY_APPLIANCE, part
            )
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
