"""Sensors of the last meal that need more than what the engine knows of it."""

from typing import Final, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
)
from homeassistant.const import UnitOfMass

from .coordinator import GalleyCoordinator
from .entity import BoatEntity
from .gas import gas_of

MEAL_GAS: Final = SensorEntityDescription(
    key="last_meal_gas",
    translation_key="last_meal_gas",
    device_class=SensorDeviceClass.WEIGHT,
    native_unit_of_measurement=UnitOfMass.GRAMS,
    suggested_display_precision=0,
    entity_registry_enabled_default=False,
)


def meal_sensors(coordinator: GalleyCoordinator) -> list[SensorEntity]:
    """Return the boat's sensors of its last meal in other measures."""
    return [MealGasSensor(coordinator, MEAL_GAS)]


class MealGasSensor(BoatEntity, SensorEntity):
    """What the last meal would have taken in propane."""

    @override
    def _refresh(self) -> bool:
        view = self.view
        meal = None if view is None else view.last_meal
        grams: float | None = None
        if meal is not None:
            options = self.coordinator.config_entry.options
            grams = round(gas_of(meal.energy_wh, options), 1)
        shown = (self._attr_available, self._attr_native_value)
        self._attr_available, self._attr_native_value = view is not None, grams
        return shown != (self._attr_available, grams)
