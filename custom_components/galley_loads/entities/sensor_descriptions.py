"""What the sensors of the boat and of its appliances show."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import (
    PERCENTAGE,
    EntityCategory,
    UnitOfEnergy,
    UnitOfPower,
    UnitOfTime,
)
from homeassistant.util import dt as dt_util

from ..core.live.live_view import ApplianceNow, ApplianceState, LiveView
from ..core.meals.meal_builder import LABELS, Meal
from .shown_step import (
    ANY_STEP,
    GROWING_AH_STEP,
    GROWING_WH_STEP,
    POWER_STEP,
    SMALL_STEP,
    ShownStep,
)
from .value_sensor import Value

UNIT_AMPERE_HOUR: Final = "Ah"
"""The platform has neither a unit constant nor a device class for charge."""


@dataclass(frozen=True, kw_only=True)
class BoatSensorDescription(SensorEntityDescription):
    """How one value of the boat is read off the view; None: not known.

    `step` is the smallest change worth showing, None where every change is.
    """

    value_fn: Callable[[LiveView], Value]
    step: ShownStep | None = None


@dataclass(frozen=True, kw_only=True)
class ApplianceSensorDescription(SensorEntityDescription):
    """How one value of an appliance is read off what it does now."""

    value_fn: Callable[[ApplianceNow], Value]
    step: ShownStep | None = None


@dataclass(frozen=True, kw_only=True)
class CounterDescription(SensorEntityDescription):
    """A counter of settled energy; `state.counters` says which one it shows."""


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
    key: str, value_fn: Callable[[LiveView], Value], step: ShownStep
) -> BoatSensorDescription:
    """Return a sensor of one meal's energy: no meter, so without a state class."""
    return BoatSensorDescription(
        key=key,
        translation_key=key,
        device_class=SensorDeviceClass.ENERGY,
        native_unit_of_measurement=UnitOfEnergy.WATT_HOUR,
        suggested_display_precision=0,
        value_fn=value_fn,
        step=step,
    )


def _state_of_label(label: str) -> str:
    """Return a meal's label as a state that has a translation."""
    return label.replace(" ", "_")


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


BOAT_SENSORS: tuple[BoatSensorDescription, ...] = (
    _power("galley_power", lambda view: view.galley_w),
    _power("background_power", lambda view: view.background_w),
    _power("unassigned_power", lambda view: view.unassigned_w),
    _power("standby_power", lambda view: view.standby_w),
    _power("load_power", lambda view: view.load_w, extra=True),
    _meal_energy(
        "current_meal_energy",
        _current(lambda meal: meal.energy_wh),
        GROWING_WH_STEP,
    ),
    _meal_energy("last_meal_energy", _last(lambda meal: meal.energy_wh), ANY_STEP),
    BoatSensorDescription(
        key="current_meal_bank_charge",
        translation_key="current_meal_bank_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        value_fn=_current(lambda meal: meal.bank_ah),
        step=GROWING_AH_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_bank_charge",
        translation_key="last_meal_bank_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        value_fn=_last(lambda meal: meal.bank_ah),
        step=ANY_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_drawn_charge",
        translation_key="last_meal_drawn_charge",
        native_unit_of_measurement=UNIT_AMPERE_HOUR,
        suggested_display_precision=1,
        entity_registry_enabled_default=False,
        value_fn=_last(lambda meal: meal.drawn_ah),
        step=ANY_STEP,
    ),
    BoatSensorDescription(
        key="last_meal_sun_share",
        translation_key="last_meal_sun_share",
        native_unit_of_measurement=PERCENTAGE,
        suggested_display_precision=0,
        value_fn=_last(lambda meal: _percent(meal.solar_share)),
        step=ANY_STEP,
    ),
    BoatSensorDescription(
        key="last_meal",
        translation_key="last_meal",
        device_class=SensorDeviceClass.ENUM,
        options=[_state_of_label(label) for label in LABELS],
        value_fn=_last(lambda meal: _state_of_label(meal.label)),
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
    )


BOAT_COUNTERS: tuple[CounterDescription, ...] = (
    _energy("galley_energy"),
    _energy("background_energy", extra=True),
    _energy("unassigned_energy", extra=True),
    _energy("load_energy", extra=True),
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
        step=GROWING_WH_STEP,
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

LEARNED_POWER = ApplianceSensorDescription(
    key="learned_power",
    translation_key="learned_power",
    device_class=SensorDeviceClass.POWER,
    native_unit_of_measurement=UnitOfPower.WATT,
    suggested_display_precision=0,
    entity_category=EntityCategory.DIAGNOSTIC,
    entity_registry_enabled_default=False,
    value_fn=lambda _: None,
    step=POWER_STEP,
)

APPLIANCE_COUNTERS: tuple[CounterDescription, ...] = (
    _energy("energy"),
    _energy(
        "standby_energy",
        extra=True,
        category=EntityCategory.DIAGNOSTIC,
    ),
)
