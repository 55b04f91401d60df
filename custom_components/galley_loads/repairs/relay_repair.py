"""The repair of a relay whose cut did not take effect: somebody has to look at it."""

from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntryState
import probatio

from ..const import DOMAIN


class RelayStuckFlow(RepairsFlow):
    """Asks whether the contact has been looked at."""

    def __init__(self, entry_id: str, subentry_id: str) -> None:
        """Remember which circuit it is about."""
        self._entry_id = entry_id
        self._subentry_id = subentry_id

    async def async_step_init(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Let the watch go on once confirmed."""
        entry = self.hass.config_entries.async_get_entry(self._entry_id)
        if entry is None or entry.domain != DOMAIN:
            return self.async_create_entry(data={})
        if user_input is not None:
            if entry.state is ConfigEntryState.LOADED:
                entry.runtime_data.watch.async_inspected(self._subentry_id)
            return self.async_create_entry(data={})
        subentry = entry.subentries.get(self._subentry_id)
        return self.async_show_form(
            step_id="init",
            data_schema=probatio.Schema({}),
            description_placeholders={
                "boat": entry.title,
                "circuit": "" if subentry is None else subentry.title,
            },
        )
