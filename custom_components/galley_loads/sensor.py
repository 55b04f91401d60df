"""Sensors of the boat and its appliances: powers, energies, meals."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Final, override

from homeassistant.components.sensor import (
    RestoreSensor,
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.config_entries import ConfigSubentry
from homeassistant.const import (
    PERCENTAGE,
    EntityCategory,
    UnitOfEnergy,
    UnitOfPower,
    UnitOfTime,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from . import counters
from .advice_sensor import advice_sensors
from .const import SUBENTRY_APPLIANCE
from .coordinator import GalleyConfigEntry, GalleyCoordinator
from .core.live import ApplianceNow, ApplianceState, LiveView
from .core.meals import Meal
from .entity import ApplianceEntity, BoatEntity, GalleyEntity
from .history_sensor import HistorySensor
from .standby_sensors import async_add_standby_sensors
from .worth_telling import POWER_STEP, SMALL_STEP, Step

PARALLEL_UPDATES = 0

UNIT_AMPERE_HOUR: Final = "Ah"
"""The platform has neither a unit constant nor a device class for charge."""

type Value = float | str | datetime | None


@dataclass(frozen=True, kw_only=True)
class BoatSensorDescription(SensorEntityDescription):
    """How one value of the boat is read off the view; None: not known.

    `step` is the smallest change worth telling, None where every change is.
    """

    value_fn: Callable[[LiveView], Value]
    step: Step | None = None


@dataclass(frozen=True, kw_only=True)
class ApplianceSensorDescription(SensorEntityDescription):
    """How one value of an appliance is read off what it does now."""

    value_fn: Callable[[ApplianceNow], Value]
    step: Step | None = None


@dataclass(frozen=True, kw_only=True)
class CounterDescription(SensorEntityDescription):
    """A counter of settled energy. `key_fn` makes its key of a subentry id."""

    key_fn: Callable[[str], str]


def _of_meal(
    meal_fn: Callable[[LiveView], Meal | None], value_fn: Callable[[Meal], Value]
) -> Callable[[LiveView], Value]:
    def value(view: LiveView) -> Value:
        meal = meal_fn(view)
        return None if meal is None else value_fn(meal)

    return value


def _current(value_fn: Callable[[Meal], Value]) -> Callable[[LiveView], Value]:
    return _of_meal(lambda view: view.current_meal, value_fn)


def _last(value_fn: Callable[[Meal], Value]) -> Callable[[LiveView], Value]:
    return _of_meal(lambda view: view.last_meal, value_fn)


def _power(
    key: str, value_fn: Callable[[LiveView], float | None], *, extra: bool = False
) -> BoatSensorDescription:
    return BoatSensorDescription(
        key=key,
        translation_key=key,
        device_class=SensorDeviceClass.POWER,
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=UnitOfPower.WATT,
        suggested_display_precision=0,
        entity_registry_enabled_default=not extra,
        value_fn=value_fn,
        step=POWER_STEP,
    )


def _meal_energy(
    key: str, value_fn: Callable[[LiveView], Value]
) -> BoatSensorDescription:
    """Return a sensor of one meal's energy: no meter, so without a state class."""
    return BoatSensorDescription(
        key=key,
        translation_key=key,
        device_class=SensorDeviceClass.ENERGY,
        native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
        suggested_display_precision=0,
        value_fn=value_fn,
        step=SMALL_STEP,
    )


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


BOAT_SENSORS: tuple[BoatSensorDescription, ...] = (
    _power("galley_power", lambda view: view.galley_w),
    _power("background_power", lambda view: view.background_w),
    _power("unassigned_power", lambda view: view.unassigned_w),
    _power("standby_power", lambda view: view.standby_w),
    _power("load_power", lambda view: view.load_w, extra=True),
    _meal_energy("current_meal_energy", _current(lambda meal: meal.energy_wh)),
    _meal_energy("last_meal_energy", _last(lambda meal: meal.energy_wh)),
    BoatSensorDescription(
        key="current_meal_bank_charge",
        translation_key="current_meal_bank_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        value_fn=_current(lambda meal: meal.bank_ah),
        step=SMALL_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_bank_charge",
        translation_key="last_meal_bank_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        value_fn=_last(lambda meal: meal.bank_ah),
        step=SMALL_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_drawn_charge",
        translation_key="last_meal_drawn_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        entity_registry_enabled_default=False,
        value_fn=_last(lambda meal: meal.drawn_ah),
        step=SMALL_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_sun_share",
        translation_key="last_meal_sun_share",
        native_unit_of_measurement=PERCENTAGE,
        suggested_display_precision=0,
        value_fn=_last(lambda meal: _percent(meal.solar_share)),
        step=SMALL_STEP,
    ),
    BoatSensorDescription(
        key="last_meal",
        translation_key="last_meal",
        value_fn=_last(lambda meal: meal.label),
    ),
    BoatSensorDescription(
        key="last_meal_end",
        translation_key="last_meal_end",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_registry_enabled_default=False,
        value_fn=_last(lambda meal: dt_util.utc_from_timestamp(round(meal.end_s))),
    ),
)


def _energy(
    key: str,
    key_fn: Callable[[str], str],
    *,
    extra: bool = False,
    category: EntityCategory | None = None,
) -> CounterDescription:
    return CounterDescription(
        key=key,
        translation_key=key,
        device_class=SensorDeviceClass.ENERGY,
        state_class=SensorStateClass.TOTAL,
        native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
        suggested_unit_of_measurement=UnitOfEnergy.KILO_WATT_HOUR,
        suggested_display_precision=2,
        entity_registry_enabled_default=not extra,
        entity_category=category,
        key_fn=key_fn,
    )


BOAT_COUNTERS: tuple[CounterDescription, ...] = (
    _energy("galley_energy", lambda _: counters.GALLEY),
    _energy("background_energy", lambda _: counters.BACKGROUND, extra=True),
    _energy("unassigned_energy", lambda _: counters.UNASSIGNED, extra=True),
    _energy("load_energy", lambda _: counters.LOAD, extra=True),
    CounterDescription(
        key="not_measured",
        translation_key="not_measured",
        device_class=SensorDeviceClass.DURATION,
        state_class=SensorStateClass.TOTAL,
        native_unit_of_measurement=UnitOfTime.SECONDS,
        suggested_unit_of_measurement=UnitOfTime.HOURS,
        suggested_display_precision=1,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        key_fn=lambda _: counters.UNMEASURED_S,
    ),
)

APPLIANCE_SENSORS: tuple[ApplianceSensorDescription, ...] = (
    ApplianceSensorDescription(
        key="power",
        translation_key="power",
        device_class=SensorDeviceClass.POWER,
        state_class=SensorStateClass.MEASUREMENT,
        native_unit_of_measurement=UnitOfPower.WATT,
        suggested_display_precision=0,
        value_fn=lambda now: now.power_w,
        step=POWER_STEP,
    ),
    ApplianceSensorDescription(
        key="state",
        translation_key="state",
        device_class=SensorDeviceClass.ENUM,
        options=[state.value for state in ApplianceState],
        value_fn=lambda now: now.state.value,
    ),
    ApplianceSensorDescription(
        key="run_energy",
        translation_key="run_energy",
        device_class=SensorDeviceClass.ENERGY,
        native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
        suggested_display_precision=0,
        entity_registry_enabled_default=False,
        value_fn=lambda now: now.run_energy_wh,
        step=SMALL_STEP,
    ),
    ApplianceSensorDescription(
        key="run_start",
        translation_key="run_start",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_registry_enabled_default=False,
        value_fn=lambda now: (
            None
            if now.run_start_s is None
            else dt_util.utc_from_timestamp(round(now.run_start_s))
        ),
    ),
    ApplianceSensorDescription(
        key="confidence",
        translation_key="confidence",
        native_unit_of_measurement=PERCENTAGE,
        suggested_display_precision=0,
        entity_category=EntityCategory.DIAGNOSTIC,
        entity_registry_enabled_default=False,
        value_fn=lambda now: 100.0 * now.confidence if now.running else None,
        step=SMALL_STEP,
    ),
)

APPLIANCE_COUNTERS: tuple[CounterDescription, ...] = (
    _energy("energy", lambda subentry_id: subentry_id),
    _energy(
        "standby_energy",
        counters.standby_key,
        extra=True,
        category=EntityCategory.DIAGNOSTIC,
    ),
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's and the appliances' sensors."""
    coordinator = entry.runtime_data
    boat: list[SensorEntity] = [
        BoatSensor(coordinator, description) for description in BOAT_SENSORS
    ]
    boat += [BoatCounter(coordinator, description) for description in BOAT_COUNTERS]
    boat += advice_sensors(coordinator)
    boat.append(HistorySensor(coordinator))
    async_add_entities(boat)
    for subentry in entry.get_subentries_of_type(SUBENTRY_APPLIANCE):
        appliance: list[SensorEntity] = [
            ApplianceSensor(coordinator, description, subentry)
            for description in APPLIANCE_SENSORS
        ]
        appliance += [
            ApplianceCounter(coordinator, description, subentry)
            for description in APPLIANCE_COUNTERS
        ]
        async_add_entities(appliance, config_subentry_id=subentry.subentry_id)
    async_add_standby_sensors(entry, async_add_entities)


class ValueSensor(GalleyEntity, SensorEntity):
    """A value of the present, told when it changed enough."""

    entity_description: BoatSensorDescription | ApplianceSensorDescription

    def _show(self, known: bool, value: Value) -> bool:
        """Take over a value; return whether it is worth telling.

        A value that is not known while its source is there shows as unknown.
        """
        shown = self._attr_native_value
        step = self.entity_description.step
        if isinstance(value, float) and step is not None:
            value = step.rounded(value)
            if (
                known == self._attr_available
                and isinstance(shown, float)
                and not step.is_worth_telling(shown, value)
            ):
                return False
        if (known, value) == (self._attr_available, shown):
            return False
        self._attr_available, self._attr_native_value = known, value
        return True


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
        return self._show(value is not None or not is_power, value)


class ApplianceSensor(ApplianceEntity, ValueSensor):
    """A value of an appliance."""

    entity_description: ApplianceSensorDescription

    @override
    def _refresh(self) -> bool:
        now = self.now
        if now is None:
            return self._show(False, None)
        return self._show(True, self.entity_description.value_fn(now))


class CounterSensor(GalleyEntity, RestoreSensor):
    """A counter. It shows its last value or nothing, and never falls.

    It is told when the state was written to disk, so that what is shown survives a power
    cut; it stays available while the boat's sensors are away.
    """

    entity_description: CounterDescription
    counter_key: str

    @override
    async def async_added_to_hass(self) -> None:
        """Go on from the highest value that was ever shown."""
        last = await self.async_get_last_sensor_data()
        if last is not None and isinstance(last.native_value, int | float):
            self.coordinator.async_lift_counter(
                self.counter_key, float(last.native_value)
            )
        await super().async_added_to_hass()

    @override
    def _refresh(self) -> bool:
        value = round(self.coordinator.counters.get(self.counter_key, 0.0), 2)
        if self._attr_available and value == self._attr_native_value:
            return False
        self._attr_available, self._attr_native_value = True, value
        return True


class BoatCounter(BoatEntity, CounterSensor):
    """A counter of the boat."""

    def __init__(
        self, coordinator: GalleyCoordinator, description: CounterDescription
    ) -> None:
        """Find the counter."""
        super().__init__(coordinator, description)
        self.counter_key = description.key_fn("")


class ApplianceCounter(ApplianceEntity, CounterSensor):
    """A counter of an appliance."""

    def __init__(
        self,
        coordinator: GalleyCoordinator,
        description: CounterDescription,
        subentry: ConfigSubentry,
    ) -> None:
        """Find the counter."""
        super().__init__(coordinator, description, subentry)
        self.counter_key = description.key_fn(subentry.subentry_id)
