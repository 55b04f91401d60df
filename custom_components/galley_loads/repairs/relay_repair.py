"""The repair of a relay whose cut did not take effect: somebody has to look at it."""

from typing import Any, Final

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntryState
from homeassistant.helpers.selector import BooleanSelector
import probatio

from ..const import DOMAIN

CONF_LOOKED_AT: Final = "looked_at"


class RelayStuckFlow(RepairsFlow):
    """Asks whether the contact has been looked at."""

    def __init__(self, entry_id: str, subentry_id: str) -> None:
        """Remember which circuit it is about."""
        self._entry_id = entry_id
        self._subentry_id = subentry_id

    async def async_step_init(self, _: Any = None) -> RepairsFlowResult:
        """Begin.

        What the platform hands over here names the issue; it is nobody's answer.
        """
        return await self.async_step_confirm()

    async def async_step_confirm(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Let the circuit be cut again once somebody says that they looked."""
        entry = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None or entry.domain != DOMAIN:
            return self.async_create_entry(data={})
        errors: dict[str, str] = {}
        if user_input is not None and not user_input[CONF_LOOKED_AT]:
            errors = {CONF_LOOKED_AT: "not_looked_at"}
        elif user_input is not None:
            if entry.state is ConfigEntryState.LOADED:
                entry.runtime_data.circuits.async_inspected(self._subentry_id)
            return self.async_create_entry(data={})
        subentry = entry.subentries.get(self._subentry_id)
        return self.async_show_form(
            step_id="confirm",
            data_schema=probatio.Schema(
                {probatio.Required(CONF_LOOKED_AT, default=False): BooleanSelector()}
            ),
            errors=errors,
            description_placeholders={
                "boat": entry.title,
                "circuit": "" if subentry is None else subentry.title,
            },
        )
