"""Yes or no: is somebody cooking, does an appliance run, are readings missing."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, override

from homeassistant.components.binary_sensor import (
    BinarySensorDeviceClass,
    BinarySensorEntity,
    BinarySensorEntityDescription,
)
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .const import SUBENTRY_APPLIANCE
from .core.live.live_view import LiveView
from .core.metering.source import Complaint
from .entity import ApplianceEntity, BoatEntity
from .language.speech import english
from .runtime import GalleyConfigEntry, GalleyRuntime

PARALLEL_UPDATES = 0

ATTR_MISSING: Final = "missing"
ATTR_CALLED: Final = "called"


@dataclass(frozen=True, kw_only=True)
class BoatBinarySensorDescription(BinarySensorEntityDescription):
    """How one yes or no of the boat is read off the view; None: not known."""

    value_fn: Callable[[LiveView], bool | None]
    attributes_fn: Callable[[LiveView], dict[str, Any]] | None = None


def missed(view: LiveView) -> list[Complaint]:
    """Return what is to be said of the sensors whose readings are missed.

    A charger that sleeps at night, gone since it last said 0, is not missed.
    """
    return [complaint for complaint in view.missing if not complaint.asleep]


BOAT_BINARY_SENSORS: tuple[BoatBinarySensorDescription, ...] = (
    BoatBinarySensorDescription(
        key="cooking",
        translation_key="cooking",
        value_fn=lambda view: None if view.load_w is None else view.cooking,
    ),
    BoatBinarySensorDescription(
        key="readings_missing",
        translation_key="readings_missing",
        device_class=BinarySensorDeviceClass.PROBLEM,
        entity_category=EntityCategory.DIAGNOSTIC,
        value_fn=lambda view: bool(missed(view)),
        attributes_fn=lambda view: {
            ATTR_MISSING: [one.entity_id for one in missed(view) if one.entity_id],
            ATTR_CALLED: english().say_all(one.called for one in missed(view)),
        },
    ),
)

RUNNING = BinarySensorEntityDescription(
    key="running",
    translation_key="running",
    device_class=BinarySensorDeviceClass.RUNNING,
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's and the appliances' binary sensors."""
    runtime = entry.runtime_data
    async_add_entities(
        BoatBinarySensor(runtime, description) for description in BOAT_BINARY_SENSORS
    )
    for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE):
        async_add_entities(
            [RunningBinarySensor(runtime, RUNNING, subentry)],
            config_subentry_id=subentry.subentry_id,
        )


class BoatBinarySensor(BoatEntity, BinarySensorEntity):
    """A yes or no of the boat."""

    entity_description: BoatBinarySensorDescription

    def __init__(
        self,
        runtime: GalleyRuntime,
        description: BoatBinarySensorDescription,
    ) -> None:
        """Start without attributes."""
        super().__init__(runtime, description)
        self._attr_extra_state_attributes = {}

    @override
    def _refresh(self) -> bool:
        view = self.view
        description = self.entity_description
        value = None if view is None else description.value_fn(view)
        attributes: dict[str, Any] = {}
        if view is not None and description.attributes_fn is not None:
            attributes = description.attributes_fn(view)
        if (value is not None, value, attributes) == (
            self._attr_available,
            self._attr_is_on,
            self._attr_extra_state_attributes,
        ):
            return False
        self._attr_available, self._attr_is_on = value is not None, value
        self._attr_extra_state_attributes = attributes
        return True


class RunningBinarySensor(ApplianceEntity, BinarySensorEntity):
    """Whether an appliance runs, pauses within a run included."""

    @property
    @override
    def icon(self) -> str:
        """The icon of its kind."""
        return self.coordinator.boat.appliance(self.appliance_name).kind.traits.icon

    @override
    def _refresh(self) -> bool:
        now = self.now
        shown = (self._attr_available, self._attr_is_on)
        self._attr_available = now is not None
        self._attr_is_on = None if now is None else now.running
        return shown != (self._attr_available, self._attr_is_on)
