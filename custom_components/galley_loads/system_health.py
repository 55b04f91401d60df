"""System health: how many boats, and whether they read what they need."""

from typing import Any

from homeassistant.components.system_health import SystemHealthRegistration
from homeassistant.core import HomeAssistant, callback

from .const import DOMAIN
from .runtime import GalleyConfigEntry


@callback
def async_register(hass: HomeAssistant, register: SystemHealthRegistration) -> None:
    """Register the information."""
    register.async_register_info(
        _async_info, f"/config/integrations/integration/{DOMAIN}"
    )


async def _async_info(hass: HomeAssistant) -> dict[str, Any]:
    entries: list[GalleyConfigEntry] = hass.config_entries.async_loaded_entries(DOMAIN)
    boats = [entry.runtime_data.coordinator for entry in entries]
    return {
        "boats": len(boats),
        "appliances": sum(len(boat.boat.appliances) for boat in boats),
        "sensors_lost": sum(len(boat.sources.lost) for boat in boats),
        "catching_up": sum(boat.catching_up for boat in boats),
    }
