"""Which sensors can serve for what, told by their unit.

A sensor without a unit is taken at the base unit of its role: some meters come without.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from homeassistant.components.sensor import DOMAIN as SENSOR_DOMAIN, SensorDeviceClass
from homeassistant.const import (
    ATTR_LATITUDE,
    ATTR_LONGITUDE,
    ATTR_UNIT_OF_MEASUREMENT,
    STATE_UNAVAILABLE,
    STATE_UNKNOWN,
    UnitOfTemperature,
)
from homeassistant.core import HomeAssistant, State, split_entity_id
from homeassistant.helpers import entity_registry as er
from homeassistant.util.unit_conversion import (
    BaseUnitConverter,
    ElectricCurrentConverter,
    ElectricPotentialConverter,
    PowerConverter,
    TemperatureConverter,
)

from ..const import DOMAIN
from ..core.boat.boat_fields import (
    CURRENT_UNITS,
    POWER_UNITS,
    SHARE_UNITS,
    TEMPERATURE_UNITS,
    VOLTAGE_UNITS,
)
from ..core.metering.reading import number_of


class Quantity(StrEnum):
    """What a role measures."""

    POWER = "power"
    CURRENT = "current"
    VOLTAGE = "voltage"
    CHARGE = "charge"
    TEMPERATURE = "temperature"
    SWITCH = "switch"
    POSITION = "position"
    FORECAST = "forecast"


@dataclass(frozen=True, slots=True)
class Measure:
    """How a quantity is read.

    `kept_units` are those that the boat description knows, the first being the base unit;
    `converted_units` are turned into the base unit state by state.
    """

    kept_units: tuple[str, ...]
    device_class: SensorDeviceClass
    converter: type[BaseUnitConverter] | None = None
    converted_units: tuple[str, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        """Every unit that makes sense."""
        return self.kept_units + self.converted_units


MEASURES: Final[Mapping[Quantity, Measure]] = {
    Quantity.POWER: Measure(
        tuple(POWER_UNITS), SensorDeviceClass.POWER, PowerConverter
    ),
    Quantity.CURRENT: Measure(
        tuple(CURRENT_UNITS), SensorDeviceClass.CURRENT, ElectricCurrentConverter
    ),
    Quantity.VOLTAGE: Measure(
        tuple(VOLTAGE_UNITS), SensorDeviceClass.VOLTAGE, ElectricPotentialConverter
    ),
    Quantity.CHARGE: Measure(tuple(SHARE_UNITS), SensorDeviceClass.BATTERY),
    Quantity.TEMPERATURE: Measure(
        tuple(TEMPERATURE_UNITS),
        SensorDeviceClass.TEMPERATURE,
        TemperatureConverter,
        (UnitOfTemperature.FAHRENHEIT,),
    ),
}

ROLES: Final[Mapping[str, Quantity]] = {
    "ac_load_power": Quantity.POWER,
    "dc_load_power": Quantity.POWER,
    "solar_power": Quantity.POWER,
    "other_charging_power": Quantity.POWER,
    "battery_power": Quantity.POWER,
    "battery_current": Quantity.CURRENT,
    "battery_voltage": Quantity.VOLTAGE,
    "battery_soc": Quantity.CHARGE,
    "battery_temperature": Quantity.TEMPERATURE,
    "position": Quantity.POSITION,
}
"""The sensors of the boat description and what each measures."""

SEVERAL: Final = ("solar_power", "other_charging_power")
"""Roles that more than one sensor may fill."""

ONE_WAY: Final = ("ac_load_power", "dc_load_power", *SEVERAL)
"""Roles of meters whose power flows one way only, and that may count backwards."""


def unit_of(hass: HomeAssistant, entity_id: str) -> str | None:
    """Return the unit a sensor has now, None where it has none or is not known."""
    state = hass.states.get(entity_id)
    if state is not None and ATTR_UNIT_OF_MEASUREMENT in state.attributes:
        return str(state.attributes[ATTR_UNIT_OF_MEASUREMENT])
    registered = er.async_get(hass).async_get(entity_id)
    return None if registered is None else registered.unit_of_measurement


def recorded_unit(
    hass: HomeAssistant, quantity: Quantity, entity_id: str
) -> str | None:
    """Return the unit to note for a sensor, None where it is the base unit."""
    measure = MEASURES.get(quantity)
    unit = unit_of(hass, entity_id)
    if measure is None or unit not in measure.kept_units[1:]:
        return None
    return unit


def exists(hass: HomeAssistant, entity_id: str) -> bool:
    """Whether the platform knows the entity, and it is not disabled."""
    if hass.states.get(entity_id) is not None:
        return True
    registered = er.async_get(hass).async_get(entity_id)
    return registered is not None and registered.disabled_by is None


def sensor_problem(
    hass: HomeAssistant, quantity: Quantity, entity_id: str
) -> str | None:
    """Return the key of what makes a sensor unfit for a quantity, None if it is fit."""
    if not exists(hass, entity_id):
        return "sensor_missing"
    if quantity is Quantity.POSITION:
        return None if _may_tell_a_place(hass, entity_id) else "no_place"
    if (measure := MEASURES.get(quantity)) is None:
        return None
    registered = er.async_get(hass).async_get(entity_id)
    if registered is not None and registered.platform == DOMAIN:
        # What is told of the galley is made of the meters, and measures nothing itself.
        return "our_own"
    unit = unit_of(hass, entity_id)
    if unit is not None and unit not in measure.units:
        return f"no_{quantity}_unit"
    state = hass.states.get(entity_id)
    if state is not None and not _is_number(state):
        return "no_number"
    return None


def unfit_for(hass: HomeAssistant, quantity: Quantity) -> list[str]:
    """Return the sensors that a list of those for a quantity had better leave out.

    A list is filtered by unit; these have the unit and are known to be unfit.
    """
    if quantity is Quantity.POSITION:
        return [
            entity_id
            for entity_id in hass.states.async_entity_ids(SENSOR_DOMAIN)
            if not _may_tell_a_place(hass, entity_id)
        ]
    return [
        known.entity_id
        for known in er.async_get(hass).entities.values()
        if known.platform == DOMAIN and known.domain == SENSOR_DOMAIN
    ]


def _may_tell_a_place(hass: HomeAssistant, entity_id: str) -> bool:
    """Whether an entity has a position, or is of a kind that gets one in time."""
    if split_entity_id(entity_id)[0] != SENSOR_DOMAIN:
        return True
    state = hass.states.get(entity_id)
    if state is None or state.state == STATE_UNAVAILABLE:
        return True  # what it is away with may be a position
    return {ATTR_LATITUDE, ATTR_LONGITUDE} <= state.attributes.keys()


def _is_number(state: State) -> bool:
    if state.state in (STATE_UNAVAILABLE, STATE_UNKNOWN):
        return True
    try:
        number_of(state.state)
    except ValueError:
        return False
    return True


def convert(quantity: Quantity, text: str, unit: str, wanted_unit: str) -> str | None:
    """Return a state's number in another unit, None where there is no way."""
    measure = MEASURES.get(quantity)
    if measure is None or measure.converter is None:
        return None
    if unit not in measure.units or wanted_unit not in measure.units:
        return None
    try:
        value = number_of(text)
    except ValueError:
        return text
    return repr(measure.converter.convert(value, unit, wanted_unit))


def sensors_of(sensors: Mapping[str, Any]) -> dict[str, Quantity]:
    """Return every entity that a sensors section names, with what it measures."""
    found: dict[str, Quantity] = {}
    for role, quantity in ROLES.items():
        chosen = sensors.get(role)
        for entity_id in chosen if isinstance(chosen, list) else [chosen]:
            if entity_id:
                found[entity_id] = quantity
    return found
