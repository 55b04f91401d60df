"""The simulated boat's relays; opening one takes its circuit's loads away."""

from typing import Any, override

from homeassistant.components.switch import SwitchDeviceClass, SwitchEntity
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddEntitiesCallback
from homeassistant.helpers.typing import ConfigType, DiscoveryInfoType

from .player import PLAYER, Player


async def async_setup_platform(
    hass: HomeAssistant,
    config: ConfigType,
    async_add_entities: AddEntitiesCallback,
    discovery_info: DiscoveryInfoType | None = None,
) -> None:
    """Add the relays."""
    player = hass.data[PLAYER]
    async_add_entities(
        PlayedSwitch(player, entity)
        for entity_id, entity in player.entities.items()
        if entity_id.startswith("switch.")
    )


class PlayedSwitch(SwitchEntity):
    """A relay that the crew of the story uses, and whoever looks on."""

    _attr_should_poll = False
    _attr_device_class = SwitchDeviceClass.OUTLET

    def __init__(self, player: Player, entity: dict[str, Any]) -> None:
        """Describe the relay."""
        self._player = player
        self.entity_id = entity["entity_id"]
        self._attr_unique_id = entity["entity_id"]
        self._attr_name = entity["name"]

    @property
    @override
    def is_on(self) -> bool:
        """Whether the circuit is live."""
        return self._player.is_closed(self.entity_id)

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the story."""
        self._player.async_listen(self.entity_id, self._async_told)

    @callback
    def _async_told(self) -> None:
        self.async_write_ha_state()

    @override
    async def async_turn_on(self, **kwargs: Any) -> None:
        """Close the relay."""
        self._player.async_switch(self.entity_id, closed=True)

    @override
    async def async_turn_off(self, **kwargs: Any) -> None:
        """Open the relay."""
        self._player.async_switch(self.entity_id, closed=False)
