"""Diagnostics: the boat as it is set up and what the engine knows, place and names hidden."""

from typing import Any

from homeassistant.components.diagnostics import async_redact_data
from homeassistant.const import CONF_LATITUDE, CONF_LONGITUDE, CONF_NAME
from homeassistant.core import HomeAssistant

from .boat_entry import mapping_from_entry
from .const import CONF_TIME_ZONE
from .coordinator import GalleyConfigEntry

REDACTED = {CONF_LATITUDE, CONF_LONGITUDE, CONF_TIME_ZONE, CONF_NAME, "position"}


async def async_get_config_entry_diagnostics(
    hass: HomeAssistant, entry: GalleyConfigEntry
) -> dict[str, Any]:
    """Return what helps to see why a boat is told wrong."""
    return async_redact_data(
        {"boat": mapping_from_entry(entry)} | entry.runtime_data.diagnostics(), REDACTED
    )
