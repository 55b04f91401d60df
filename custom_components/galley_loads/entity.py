"""What all entities of a boat have in common.

An entity is told of every update and writes its state only when what it shows changed
enough to matter: a small board's card is not worn out by the last watt.
"""

from abc import abstractmethod
from typing import override

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import callback
from homeassistant.helpers.device_registry import DeviceEntryType, DeviceInfo
from homeassistant.helpers.entity import EntityDescription
from homeassistant.helpers.update_coordinator import CoordinatorEntity

from .const import DOMAIN, MANUFACTURER
from .coordinator import GalleyCoordinator
from .core.kinds.kind import Kind
from .core.live.live_view import ApplianceNow, LiveView
from .runtime import GalleyConfigEntry, GalleyRuntime


def boat_device_info(entry: GalleyConfigEntry) -> DeviceInfo:
    """Return the device that stands for the boat."""
    return DeviceInfo(
        identifiers={(DOMAIN, entry.entry_id)},
        name=entry.title,
        manufacturer=MANUFACTURER,
        model="Boat",
        entry_type=DeviceEntryType.SERVICE,
    )


class GalleyEntity(CoordinatorEntity[GalleyCoordinator]):
    """Base of all entities."""

    _attr_has_entity_name = True

    def __init__(self, runtime: GalleyRuntime, description: EntityDescription) -> None:
        """Take the view that is there already."""
        super().__init__(runtime.coordinator)
        self.runtime = runtime
        self.entity_description = description
        self._attr_available = False

    @property
    def view(self) -> LiveView | None:
        """What is known now, None before anything is."""
        return self.coordinator.data

    @abstractmethod
    def _refresh(self) -> bool:
        """Take over the present; return whether that is worth telling."""

    @override
    async def async_added_to_hass(self) -> None:
        """Show what is known already."""
        await super().async_added_to_hass()
        self._refresh()

    @property
    @override
    def available(self) -> bool:
        """Whether what this entity shows is known."""
        return self._attr_available

    @callback
    @override
    def _handle_coordinator_update(self) -> None:
        """Write the state if it changed enough to matter."""
        if self._refresh():
            self.async_write_ha_state()


class BoatEntity(GalleyEntity):
    """Base of the boat's own entities."""

    def __init__(self, runtime: GalleyRuntime, description: EntityDescription) -> None:
        """Hang the entity on the boat's device."""
        super().__init__(runtime, description)
        entry = runtime.coordinator.config_entry
        self._attr_unique_id = f"{entry.entry_id}_{description.key}"
        self._attr_device_info = boat_device_info(entry)


class ApplianceEntity(GalleyEntity):
    """Base of an appliance's entities; their ids outlive any renaming."""

    def __init__(
        self,
        runtime: GalleyRuntime,
        description: EntityDescription,
        subentry: ConfigSubentry,
    ) -> None:
        """Hang the entity on the appliance's device."""
        super().__init__(runtime, description)
        self.subentry_id = subentry.subentry_id
        self.appliance_name = runtime.coordinator.appliance_names[subentry.subentry_id]
        kind = runtime.coordinator.boat.appliance(self.appliance_name).kind
        self._attr_unique_id = f"{subentry.subentry_id}_{description.key}"
        self._attr_device_info = DeviceInfo(
            identifiers={(DOMAIN, subentry.subentry_id)},
            name=subentry.title,
            manufacturer=MANUFACTURER,
            model=kind_text(kind),
            via_device_id=runtime.boat_device_id,
        )

    @property
    def now(self) -> ApplianceNow | None:
        """What the appliance does at present, None where that is not known."""
        view = self.view
        if view is None or not self._is_measured(view):
            return None
        return view.appliance(self.appliance_name)

    def _is_measured(self, view: LiveView) -> bool:
        """Whether the meter is there that tells of it: its own, else the boat's."""
        meter = self.coordinator.boat.appliance(self.appliance_name).power_sensor
        if meter is not None:
            return meter.entity_id not in self.coordinator.sources.lost
        return view.load_w is not None


def kind_text(kind: Kind) -> str:
    """Return a kind in words, for the device page: `Induction hob`."""
    return kind.replace("_", " ").capitalize()
