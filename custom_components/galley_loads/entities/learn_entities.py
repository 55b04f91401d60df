"""Entities of learn mode: a button that begins it, and what has come of it."""

from typing import Final, override

from homeassistant.components.button import ButtonEntity, ButtonEntityDescription
from homeassistant.components.sensor import SensorDeviceClass, SensorEntityDescription
from homeassistant.config_entries import ConfigSubentry
from homeassistant.const import EntityCategory
from homeassistant.core import callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from ..boat.rights import RIGHTS, async_demand
from ..const import CONF_POWER_SENSOR, SUBENTRY_APPLIANCE
from ..entity import ApplianceEntity
from ..runtime import GalleyConfigEntry
from ..watch.learn_mode import LearnState
from .value_sensor import ValueSensor

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
    runtime = entry.runtime_data
    for subentry in _inferred(entry):
        async_add_entities(
            [LearningSensor(runtime, LEARNING, subentry)],
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
        """Begin, if whoever pressed it may do so by the action as well."""
        await async_demand(self.hass, self._context, RIGHTS["start_learning"])
        self.runtime.learn.async_begin(self.appliance_name)


class LearningSensor(ApplianceEntity, ValueSensor):
    """What learn mode does about the appliance; its message is an attribute."""

    _unrecorded_attributes = frozenset({"message"})

    @override
    async def async_added_to_hass(self) -> None:
        """Listen to learn mode too."""
        await super().async_added_to_hass()
        self.async_on_remove(self.runtime.learn.async_listen(self._async_changed))

    @callback
    def _async_changed(self) -> None:
        self._handle_coordinator_update()

    @override
    def _refresh(self) -> bool:
        learn = self.runtime.learn
        state = learn.state(self.appliance_name).value
        message = learn.message(self.appliance_name)
        attributes = {} if message is None else {"message": message}
        return self._show(True, state, attributes=attributes)
