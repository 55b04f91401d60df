"""Entities of learn mode: a button that begins it, and what has come of it."""

from typing import Any, Final, override

from homeassistant.components.button import ButtonEntity, ButtonEntityDescription
from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.config_entries import ConfigSubentry
from homeassistant.const import EntityCategory, UnitOfPower
from homeassistant.core import callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .const import CONF_POWER_SENSOR, SUBENTRY_APPLIANCE
from .coordinator import GalleyConfigEntry, GalleyCoordinator
from .entity import ApplianceEntity, GalleyEntity
from .learn_desk import LearnState

BEGIN: Final = ButtonEntityDescription(
    key="learn", translation_key="learn", entity_category=EntityCategory.CONFIG
)

LEARNING: Final = SensorEntityDescription(
    key="learning",
    translation_key="learning",
    device_class=SensorDeviceClass.ENUM,
    options=[state.value for state in LearnState],
    entity_category=EntityCategory.DIAGNOSTIC,
)

LEARNED_POWER: Final = SensorEntityDescription(
    key="learned_power",
    translation_key="learned_power",
    device_class=SensorDeviceClass.POWER,
    state_class=SensorStateClass.MEASUREMENT,
    native_unit_of_measurement=UnitOfPower.WATT,
    suggested_display_precision=0,
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
)


def _inferred(entry: GalleyConfigEntry) -> list[ConfigSubentry]:
    """Return the appliances without a meter of their own: only these are learnt."""
    return [
        subentry
        for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE)
        if not subentry.data.get(CONF_POWER_SENSOR)
    ]


@callback
def async_add_learn_buttons(
    entry: GalleyConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the buttons."""
    for subentry in _inferred(entry):
        async_add_entities(
            [LearnButton(entry.runtime_data, BEGIN, subentry)],
            config_subentry_id=subentry.subentry_id,
        )


@callback
def async_add_learn_sensors(
    entry: GalleyConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the sensors."""
    coordinator: GalleyCoordinator = entry.runtime_data
    for subentry in _inferred(entry):
        async_add_entities(
            [
                LearningSensor(coordinator, LEARNING, subentry),
                LearnedPowerSensor(coordinator, LEARNED_POWER, subentry),
            ],
            config_subentry_id=subentry.subentry_id,
        )


class LearnButton(ApplianceEntity, ButtonEntity):
    """Begins learn mode for an appliance."""

    @override
    def _refresh(self) -> bool:
        available = self.now is not None
        changed = available is not self._attr_available
        self._attr_available = available
        return changed

    @override
    async def async_press(self) -> None:
        """Begin."""
        self.coordinator.learn.async_begin(self.appliance_name)


class LearnSensor(ApplianceEntity, GalleyEntity, SensorEntity):
    """Base of the sensors: they are there whatever the meters do."""

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to learn mode too."""
        await super().async_added_to_hass()
        self.async_on_remove(self.coordinator.learn.async_listen(self._async_changed))

    @callback
    def _async_changed(self) -> None:
        self._handle_coordinator_update()


class LearningSensor(LearnSensor):
    """What learn mode does about the appliance; its message is an attribute."""

    _unrecorded_attributes = frozenset({"message"})

    @override
    def _refresh(self) -> bool:
        learn = self.coordinator.learn
        state = learn.state(self.appliance_name).value
        message = learn.message(self.appliance_name)
        attributes: dict[str, Any] = {} if message is None else {"message": message}
        before = (
            self._attr_available,
            self._attr_native_value,
            getattr(self, "_attr_extra_state_attributes", {}),
        )
        self._attr_available, self._attr_native_value = True, state
        self._attr_extra_state_attributes = attributes
        return before != (True, state, attributes)


class LearnedPowerSensor(LearnSensor):
    """The full power that use has taught; unknown while only the rating is known."""

    @override
    def _refresh(self) -> bool:
        learned = self.coordinator.learn.learned.get(self.appliance_name)
        appliance = self.coordinator.boat.appliance(self.appliance_name)
        value: float | None = None
        if learned is not None and learned.rated_w != appliance.rated_power_w:
            value = round(learned.rated_w, 1)
        before = (self._attr_available, self._attr_native_value)
        self._attr_available, self._attr_native_value = True, value
        return before != (True, value)
