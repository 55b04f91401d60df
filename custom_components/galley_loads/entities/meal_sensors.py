"""Sensors of the last meal that need more than what the engine knows of it."""

from typing import Any, Final, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
)
from homeassistant.const import PERCENTAGE, UnitOfMass

from ..entity import BoatEntity
from ..meals.gas_used import gas_of
from ..runtime import GalleyRuntime
from .value_sensor import ValueSensor

MEAL_GAS: Final = SensorEntityDescription(
    key="last_meal_gas",
    translation_key="last_meal_gas",
    device_class=SensorDeviceClass.WEIGHT,
    native_unit_of_measurement=UnitOfMass.GRAMS,
    suggested_display_precision=0,
    entity_registry_enabled_default=False,
)

AGAINST_PLAN: Final = SensorEntityDescription(
    key="last_dish_against_plan",
    translation_key="last_dish_against_plan",
    native_unit_of_measurement=PERCENTAGE,
    suggested_display_precision=0,
    entity_registry_enabled_default=False,
)


def meal_sensors(runtime: GalleyRuntime) -> list[SensorEntity]:
    """Return the boat's sensors of its last meal in other measures."""
    return [
        MealGasSensor(runtime, MEAL_GAS),
        AgainstPlanSensor(runtime, AGAINST_PLAN),
    ]


class MealGasSensor(BoatEntity, ValueSensor):
    """What the last meal would have taken in propane."""

    @override
    def _refresh(self) -> bool:
        view = self.view
        meal = None if view is None else view.last_meal
        grams: float | None = None
        if meal is not None:
            options = self.coordinator.config_entry.options
            grams = round(gas_of(meal.energy_wh, options), 1)
        return self._show(view is not None, grams)


class AgainstPlanSensor(BoatEntity, ValueSensor):
    """How much more the last planned dish took than expected; below 0: less."""

    @override
    def _refresh(self) -> bool:
        planned = self.runtime.expected.meals.last
        value: float | None = None
        attributes: dict[str, Any] = {}
        if planned is not None:
            value = round(planned.difference_percent, 1)
            attributes = {
                "dish": planned.dish,
                "expected_wh": round(planned.expected_wh, 1),
                "taken_wh": round(planned.taken_wh, 1),
                "difference_wh": round(planned.difference_wh, 1),
            }
        return self._show(True, value, attributes=attributes)
