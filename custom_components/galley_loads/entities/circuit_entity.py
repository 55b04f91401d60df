"""What the entities of a circuit have in common."""

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.helpers.device_registry import DeviceEntryType, DeviceInfo
from homeassistant.helpers.entity import EntityDescription

from ..const import CONF_RELAY, DOMAIN, MANUFACTURER, SUBENTRY_CIRCUIT
from ..entity import GalleyEntity
from ..runtime import GalleyRuntime


class CircuitEntity(GalleyEntity):
    """Base of a circuit's entities; their ids outlive any renaming."""

    def __init__(
        self,
        runtime: GalleyRuntime,
        description: EntityDescription,
        subentry: ConfigSubentry,
    ) -> None:
        """Hang the entity on the circuit's device."""
        super().__init__(runtime, description)
        self.circuits = runtime.circuits
        self.subentry_id = subentry.subentry_id
        self.circuit_name = self.circuits.names[subentry.subentry_id]
        self._attr_unique_id = f"{subentry.subentry_id}_{description.key}"
        self._attr_device_info = DeviceInfo(
            identifiers={(DOMAIN, subentry.subentry_id)},
            name=subentry.title,
            manufacturer=MANUFACTURER,
            model="Circuit",
            entry_type=DeviceEntryType.SERVICE,
            via_device_id=runtime.boat_device_id,
        )


def circuits_with_relay(entry: ConfigEntry) -> list[ConfigSubentry]:
    """Return the circuits that have a relay."""
    return [
        subentry
        for subentry in entry.get_subentries_of_type(SUBENTRY_CIRCUIT)
        if subentry.data.get(CONF_RELAY)
    ]
