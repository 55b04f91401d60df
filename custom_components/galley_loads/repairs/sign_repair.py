"""The repair of a sensor that is read the wrong way round: it is turned once confirmed."""

from collections.abc import Mapping
from typing import Any, Final

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
import probatio

from ..boat.boat_sensors import watched_of
from ..boat.source_changes import async_set_reversed
from ..const import CONF_REVERSED, CONF_SENSORS, DOMAIN
from ..core.metering.wrong_sign import Turned
from ..flows.forms import CONF_BATTERY_POSITIVE

_OTHER_WAY: Final = {"charging": "discharging", "discharging": "charging"}


class WrongSignFlow(RepairsFlow):
    """Asks whether the sign is to be turned, and turns it."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        """Take what the notice says: which sensor of which boat, and by what evidence."""
        self._entry_id = str(data.get("entry_id"))
        self._turned = str(data.get("turned"))
        self._entity_id = str(data.get("entity_id"))
        self._sensors = str(data.get("sensors"))
        self._evidence = str(data.get("evidence")).splitlines()

    async def async_step_init(self, _: Any = None) -> RepairsFlowResult:
        """Begin."""
        return await self.async_step_confirm()

    async def async_step_confirm(
        self, user_input: dict[str, Any] | None = None
    ) -> RepairsFlowResult:
        """Turn the sign once confirmed."""
        entry = self.hass.config_entries.async_get_entry(self._entry_id)
        if (
            entry is None
            or entry.domain != DOMAIN
            or self._entity_id not in watched_of(entry)
        ):
            return self.async_create_entry(data={})
        if user_input is not None:
            if self._turned == Turned.BANK:
                self._turn_bank(entry)
            else:
                self._turn_meter(entry)
            return self.async_create_entry(data={})
        before = _positive_means(entry)
        return self.async_show_form(
            step_id="confirm",
            data_schema=probatio.Schema({}),
            description_placeholders={
                "boat": entry.title,
                "sensors": self._sensors,
                "evidence": _listed(self._evidence),
                "before": before,
                "after": _OTHER_WAY[before],
            },
        )

    def _turn_bank(self, entry: ConfigEntry) -> None:
        sensors = dict(entry.data[CONF_SENSORS])
        sensors[CONF_BATTERY_POSITIVE] = _OTHER_WAY[_positive_means(entry)]
        self.hass.config_entries.async_update_entry(
            entry, data={**entry.data, CONF_SENSORS: sensors}
        )

    def _turn_meter(self, entry: ConfigEntry) -> None:
        is_reversed = self._entity_id in entry.data.get(CONF_REVERSED, ())
        async_set_reversed(self.hass, entry, self._entity_id, not is_reversed)


def _listed(sentences: list[str]) -> str:
    """Return sentences as the page shows them: several as a list."""
    if len(sentences) == 1:
        return sentences[0]
    return "\n".join(f"* {sentence}" for sentence in sentences)


def _positive_means(entry: ConfigEntry) -> str:
    """Return what a positive reading of the bank means now."""
    return str(entry.data[CONF_SENSORS].get(CONF_BATTERY_POSITIVE, "charging"))
