"""The boat's own outlook on the sun, as a solar forecast for the energy dashboard."""

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from .const import DOMAIN
from .runtime import GalleyConfigEntry


async def async_get_solar_forecast(
    hass: HomeAssistant, config_entry_id: str
) -> dict[str, dict[str, float | int]] | None:
    """Return the expected sun by hour, Wh at the array; None without a boat or array."""
    entry: GalleyConfigEntry | None = hass.config_entries.async_get_entry(
        config_entry_id
    )
    if (
        entry is None
        or entry.domain != DOMAIN
        or entry.state is not ConfigEntryState.LOADED
    ):
        return None
    boat = entry.runtime_data.coordinator.boat
    if boat.solar is None and not boat.sensors.solar_power:
        return None
    return {
        "wh_hours": {
            dt_util.utc_from_timestamp(hour).isoformat(): round(energy_wh, 1)
            for hour, energy_wh in sorted(entry.runtime_data.advice.sun_wh.items())
        }
    }
