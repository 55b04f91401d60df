"""Sensors of the boat and its appliances: powers, energies, meals."""

from typing import override

from homeassistant.components.sensor import SensorDeviceClass, SensorEntity
from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .const import SUBENTRY_APPLIANCE
from .entities.advice_sensors import advice_sensors
from .entities.history_sensor import HistorySensor
from .entities.learn_entities import async_add_learn_sensors
from .entities.meal_sensors import meal_sensors
from .entities.sensor_descriptions import (
    APPLIANCE_COUNTERS,
    APPLIANCE_SENSORS,
    BOAT_COUNTERS,
    BOAT_SENSORS,
    LEARNED_POWER,
    ApplianceSensorDescription,
    BoatSensorDescription,
    CounterDescription,
)
from .entities.standby_sensors import async_add_standby_sensors
from .entities.value_sensor import CounterSensor, ValueSensor
from .entity import ApplianceEntity, BoatEntity
from .runtime import GalleyConfigEntry, GalleyRuntime
from .state import counters

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's and the appliances' sensors."""
    runtime = entry.runtime_data
    boat: list[SensorEntity] = [
        BoatSensor(runtime, description) for description in BOAT_SENSORS
    ]
    boat += [BoatCounter(runtime, description) for description in BOAT_COUNTERS]
    boat += advice_sensors(runtime)
    boat += meal_sensors(runtime)
    boat.append(HistorySensor(runtime))
    async_add_entities(boat)
    for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE):
        appliance: list[SensorEntity] = [
            ApplianceSensor(runtime, description, subentry)
            for description in APPLIANCE_SENSORS
        ]
        appliance.append(LearnedPowerSensor(runtime, LEARNED_POWER, subentry))
        appliance += [
            ApplianceCounter(runtime, description, subentry)
            for description in APPLIANCE_COUNTERS
        ]
        async_add_entities(appliance, config_subentry_id=subentry.subentry_id)
    async_add_standby_sensors(entry, async_add_entities)
    async_add_learn_sensors(entry, async_add_entities)


class BoatSensor(BoatEntity, ValueSensor):
    """A value of the boat."""

    entity_description: BoatSensorDescription

    @override
    def _refresh(self) -> bool:
        view = self.view
        if view is None:
            return self._show(False, None)
        value = self.entity_description.value_fn(view)
        is_power = self.entity_description.device_class is SensorDeviceClass.POWER
        # A power without its meter is away; one that is not learnt yet is unknown.
        known = value is not None or not is_power or view.load_w is not None
        return self._show(known, value, self.entity_description.step)


class ApplianceSensor(ApplianceEntity, ValueSensor):
    """A value of an appliance."""

    entity_description: ApplianceSensorDescription

    @override
    def _refresh(self) -> bool:
        now = self.now
        if now is None:
            return self._show(False, None)
        description = self.entity_description
        return self._show(True, description.value_fn(now), description.step)


class LearnedPowerSensor(ApplianceEntity, ValueSensor):
    """What an appliance really draws at full power, once its runs have told.

    Unknown while only its plate tells.
    """

    entity_description: ApplianceSensorDescription

    @override
    def _refresh(self) -> bool:
        learned = self.coordinator.known.learned.get(self.appliance_name)
        plate_w = self.coordinator.boat.appliance(self.appliance_name).rated_power_w
        # Learn mode teaches a power without a run of the inference's own.
        known = learned and (learned.runs > 0 or learned.rated_w != plate_w)
        value = learned.rated_w if learned and known else None
        return self._show(True, value, self.entity_description.step)


class EnergyCounter(CounterSensor):
    """A counter of the engine's energies; what was shown before lifts it for good."""

    entity_description: CounterDescription
    counter_key: str

    @override
    async def async_added_to_hass(self) -> None:
        """Lift the counter itself to what was shown."""
        await super().async_added_to_hass()
        if self._least:
            self.coordinator.async_lift_counter(self.counter_key, self._least)

    @override
    def _counted(self) -> float:
        return self.coordinator.counters.get(self.counter_key, 0.0)


class BoatCounter(BoatEntity, EnergyCounter):
    """A counter of the boat."""

    def __init__(self, runtime: GalleyRuntime, description: CounterDescription) -> None:
        """Find the counter."""
        super().__init__(runtime, description)
        self.counter_key = counters.BOAT_SENSORS[description.key]


class ApplianceCounter(ApplianceEntity, EnergyCounter):
    """A counter of an appliance."""

    def __init__(
        self,
        runtime: GalleyRuntime,
        description: CounterDescription,
        subentry: ConfigSubentry,
    ) -> None:
        """Find the counter."""
        super().__init__(runtime, description, subentry)
        self.counter_key = counters.APPLIANCE_SENSORS[description.key](
            subentry.subentry_id
        )
