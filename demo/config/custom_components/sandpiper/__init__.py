"""The simulated boat's sensors and relays, played in real time from a prepared file."""

from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import HomeAssistant
from homeassistant.helpers.discovery import async_load_platform
from homeassistant.helpers.typing import ConfigType

from .player import PLAYER, Player, read_coming

DOMAIN = "sandpiper"


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Read what comes, and show it when it comes."""
    path = hass.config.path(f"{DOMAIN}.json.gz")
    player = Player(hass, await hass.async_add_executor_job(read_coming, path))
    hass.data[PLAYER] = player
    for platform in ("sensor", "switch"):
        hass.async_create_task(async_load_platform(hass, platform, DOMAIN, {}, config))
    player.async_start()
    hass.bus.async_listen_once(EVENT_HOMEASSISTANT_STOP, player.async_stop)
    return True
