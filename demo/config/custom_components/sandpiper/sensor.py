"""The simulated boat's sensors."""

from typing import Any, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorStateClass,
)
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddEntitiesCallback
from homeassistant.helpers.typing import ConfigType, DiscoveryInfoType

from .player import PLAYER, Player

DIGITS = {"W": 0, "A": 1, "V": 2, "%": 0}


async def async_setup_platform(
    hass: HomeAssistant,
    config: ConfigType,
    async_add_entities: AddEntitiesCallback,
    discovery_info: DiscoveryInfoType | None = None,
) -> None:
    """Add the sensors."""
    player = hass.data[PLAYER]
    async_add_entities(
        PlayedSensor(player, entity)
        for entity_id, entity in player.entities.items()
        if entity_id.startswith("sensor.")
    )


class PlayedSensor(SensorEntity):
    """A sensor that shows what the story says."""

    _attr_should_poll = False

    def __init__(self, player: Player, entity: dict[str, Any]) -> None:
        """Describe it as its meter would."""
        self._player = player
        self.entity_id = entity["entity_id"]
        self._attr_unique_id = entity["entity_id"]
        self._attr_name = entity["name"]
        self._attr_device_class = SensorDeviceClass(entity["device_class"])
        self._attr_state_class = SensorStateClass(entity["state_class"])
        self._attr_native_unit_of_measurement = entity["unit_of_measurement"]
        self._attr_suggested_display_precision = DIGITS.get(
            entity["unit_of_measurement"]
        )

    @override
    async def async_added_to_hass(self) -> None:
        """Show what is there, and follow the story."""
        self._player.async_listen(self.entity_id, self._async_told)
        self._take()

    def _take(self) -> None:
        value = self._player.value(self.entity_id)
        self._attr_available = value is not None
        self._attr_native_value = value

    @callback
    def _async_told(self) -> None:
        self._take()
        self.async_write_ha_state()
