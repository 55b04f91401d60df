"""Sensors about standby: what is drawn, what a day of it costs, what cuts have saved."""

from typing import Final, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import EntityCategory, UnitOfEnergy, UnitOfPower
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from ..const import SUBENTRY_APPLIANCE, SUBENTRY_CIRCUIT
from ..core.cutting import Reason
from ..core.standby import standby_cost
from ..entity import ApplianceEntity, BoatEntity
from ..runtime import GalleyConfigEntry, GalleyRuntime
from .circuit_entity import CircuitEntity
from .shown_step import SMALL_STEP
from .value_sensor import CounterSensor, Value, ValueSensor

UNIT_AMPERE_HOUR: Final = "Ah"

STANDBY_POWER: Final = SensorEntityDescription(
    key="standby_power",
    translation_key="standby_power",
    device_class=SensorDeviceClass.POWER,
    state_class=SensorStateClass.MEASUREMENT,
    native_unit_of_measurement=UnitOfPower.WATT,
    suggested_display_precision=1,
    entity_category=EntityCategory.DIAGNOSTIC,
)
STANDBY_DAY_CHARGE: Final = SensorEntityDescription(
    key="standby_day_charge",
    translation_key="standby_day_charge",
    native_unit_of_measurement=UNIT_AMPERE_HOUR,
    suggested_display_precision=1,
)
STANDBY_DAY_ENERGY: Final = SensorEntityDescription(
    key="standby_day_energy",
    translation_key="standby_day_energy",
    device_class=SensorDeviceClass.ENERGY,
    native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
    suggested_display_precision=0,
)
APPLIANCE_DAY_CHARGE: Final = SensorEntityDescription(
    key="standby_day_charge",
    translation_key="standby_day_charge",
    native_unit_of_measurement=UNIT_AMPERE_HOUR,
    suggested_display_precision=1,
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
)
APPLIANCE_DAY_ENERGY: Final = SensorEntityDescription(
    key="standby_day_energy",
    translation_key="standby_day_energy",
    device_class=SensorDeviceClass.ENERGY,
    native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
    suggested_display_precision=0,
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
)
STANDBY_SAVED: Final = SensorEntityDescription(
    key="standby_saved",
    translation_key="standby_saved",
    device_class=SensorDeviceClass.ENERGY,
    state_class=SensorStateClass.TOTAL,
    native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
    suggested_unit_of_measurement=UnitOfEnergy.KILO_WATT_HOUR,
    suggested_display_precision=2,
)
CUT_OBSTACLE: Final = SensorEntityDescription(
    key="cut_obstacle",
    translation_key="cut_obstacle",
    device_class=SensorDeviceClass.ENUM,
    options=["none", *(reason.value for reason in Reason)],
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
)
TIMER_END: Final = SensorEntityDescription(
    key="timer_end",
    translation_key="timer_end",
    device_class=SensorDeviceClass.TIMESTAMP,
)


def async_add_standby_sensors(
    entry: GalleyConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the sensors about standby of boat, circuits and appliances."""
    runtime = entry.runtime_data
    async_add_entities(
        [
            BoatStandbySensor(runtime, STANDBY_DAY_CHARGE),
            BoatStandbySensor(runtime, STANDBY_DAY_ENERGY),
            BoatSavedSensor(runtime, STANDBY_SAVED),
        ]
    )
    for subentry in entry.get_subentries_of_type(SUBENTRY_CIRCUIT):
        sensors: list[SensorEntity] = [
            CircuitStandbySensor(runtime, description, subentry)
            for description in (STANDBY_POWER, STANDBY_DAY_CHARGE, STANDBY_DAY_ENERGY)
        ]
        if runtime.circuits.has_relay(subentry.subentry_id):
            sensors.append(CircuitSavedSensor(runtime, STANDBY_SAVED, subentry))
            sensors.append(CutObstacleSensor(runtime, CUT_OBSTACLE, subentry))
        async_add_entities(sensors, config_subentry_id=subentry.subentry_id)
    for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE):
        name = runtime.coordinator.appliance_names[subentry.subentry_id]
        sensors = [
            ApplianceStandbySensor(runtime, description, subentry)
            for description in (
                STANDBY_POWER,
                APPLIANCE_DAY_CHARGE,
                APPLIANCE_DAY_ENERGY,
            )
        ]
        if runtime.coordinator.boat.appliance(name).kind.traits.timed:
            sensors.append(TimerEndSensor(runtime, TIMER_END, subentry))
        async_add_entities(sensors, config_subentry_id=subentry.subentry_id)


class _ShownSensor(ValueSensor):
    """A sensor that is always there and shows one value."""

    def _value(self) -> Value:
        raise NotImplementedError

    @override
    def _refresh(self) -> bool:
        return self._show(True, self._value(), SMALL_STEP)


def _in_words_of(
    description: SensorEntityDescription,
    runtime: GalleyRuntime,
    power_w: float | None,
) -> float | None:
    """Return a standby power as the sensor shows it: W, or what a day of it takes."""
    if power_w is None:
        return None
    cost = standby_cost(runtime.coordinator.boat, power_w, 24)
    return {
        STANDBY_DAY_CHARGE.key: cost.bank_ah,
        STANDBY_DAY_ENERGY.key: cost.energy_wh,
    }.get(description.key, power_w)


class BoatStandbySensor(BoatEntity, _ShownSensor):
    """What a day of the boat's present standby takes."""

    entity_description: SensorEntityDescription

    @override
    def _value(self) -> Value:
        view = self.coordinator.data
        power_w = None if view is None else view.standby_w
        at_least = view is not None and view.standby_at_least
        self._attr_extra_state_attributes = {"at_least": at_least}
        return _in_words_of(self.entity_description, self.runtime, power_w)


class CircuitStandbySensor(CircuitEntity, _ShownSensor):
    """What a circuit draws on standby when it is live, unknown until that is known."""

    entity_description: SensorEntityDescription

    @override
    def _value(self) -> Value:
        figure = self.coordinator.known.circuit_standby[self.circuit_name]
        power_w = None if figure is None or figure.at_least else figure.power_w
        return _in_words_of(self.entity_description, self.runtime, power_w)


class ApplianceStandbySensor(ApplianceEntity, _ShownSensor):
    """What an appliance draws on standby, unknown until that is known."""

    entity_description: SensorEntityDescription

    @override
    def _value(self) -> Value:
        power_w = self.coordinator.known.standby_w[self.appliance_name]
        return _in_words_of(self.entity_description, self.runtime, power_w)


class CutObstacleSensor(CircuitEntity, _ShownSensor):
    """What speaks against cutting a circuit now."""

    @override
    def _value(self) -> Value:
        return self.circuits.obstacle(self.circuit_name)


class TimerEndSensor(ApplianceEntity, _ShownSensor):
    """When an appliance's timer will be over; unknown while it waits for the heat."""

    @override
    def _value(self) -> Value:
        timer = self.runtime.timers.get(self.appliance_name)
        if timer is None or timer.ends_s is None:
            return None
        return dt_util.utc_from_timestamp(round(timer.ends_s))


class BoatSavedSensor(BoatEntity, CounterSensor):
    """The standby that all cuts of a boat have saved."""

    @override
    def _counted(self) -> float:
        return self.runtime.savings.total_wh


class CircuitSavedSensor(CircuitEntity, CounterSensor):
    """The standby that cuts of one circuit have saved."""

    @override
    def _counted(self) -> float:
        return self.runtime.savings.shown_wh.get(self.subentry_id, 0.0)
