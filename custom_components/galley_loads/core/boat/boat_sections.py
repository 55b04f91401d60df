"""The sections of a boat description: their fields, and what a section must agree on.

Keys are those of a boat file; the forms of the interface use the same sections. A number's
limits are wide: they catch a wrong unit or a slip of the finger, not an unusual boat.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import time
from typing import Any, Final

from ..kinds.catalogue import KINDS
from ..phrase import phrase
from .boat import (
    Appliance,
    Bank,
    Chemistry,
    Circuit,
    CutRule,
    Dish,
    Inverter,
    Sensor,
    Sensors,
    Solar,
    Supply,
)
from .boat_fields import (
    CURRENT_UNITS,
    PLACE_DOMAINS,
    POWER_UNITS,
    SHARE_UNITS,
    SWITCH_DOMAINS,
    TEMPERATURE_UNITS,
    VOLTAGE_UNITS,
    EntityId,
    Number,
    OneOf,
    OneOrMore,
    SensorField,
    clock_time,
    forecast_source,
    name_text,
    not_allowed,
    yes_or_no,
)
from .boat_problems import Fault, FieldInvalid, Path, path_text, shown
from .boat_section import Field, Section

_WATTS: Final = phrase("boat.in_watts")
_MINUTES: Final = phrase("boat.minutes")

_POWER: Final = SensorField(POWER_UNITS, phrase("boat.power_entity"))
_ONE_WAY: Final = SensorField(POWER_UNITS, phrase("boat.power_entity"), one_way=True)
_CURRENT: Final = SensorField(CURRENT_UNITS, phrase("boat.current_entity"))
_VOLTAGE: Final = SensorField(VOLTAGE_UNITS, phrase("boat.voltage_entity"))
_SOC: Final = SensorField(SHARE_UNITS, phrase("boat.soc_entity"))
_TEMPERATURE: Final = SensorField(TEMPERATURE_UNITS, phrase("boat.temperature_entity"))


def _sensor_writer(units: Mapping[str, float]) -> Callable[[Sensor], Any]:
    names = {scale: unit for unit, scale in units.items()}

    def write(sensor: Sensor) -> Any:
        if sensor.scale == 1.0:
            return sensor.entity_id
        written: dict[str, Any] = {"entity": sensor.entity_id}
        if abs(sensor.scale) != 1.0:
            written["unit"] = names[abs(sensor.scale)]
        if sensor.scale < 0.0:
            written["reversed"] = True
        return written

    return write


_write_power: Final = _sensor_writer(POWER_UNITS)


def _write_powers(sensors: tuple[Sensor, ...]) -> Any:
    written = [_write_power(sensor) for sensor in sensors]
    return written[0] if len(written) == 1 else written


def _write_time(at: time) -> str:
    return at.isoformat("seconds" if at.second else "minutes")


def _write_minutes(minutes: Mapping[str, float]) -> dict[str, float]:
    return {
        name: int(value) if value.is_integer() else value
        for name, value in minutes.items()
    }


def _sign(value: Any) -> int:
    signs = {"charging": 1, "discharging": -1}
    if isinstance(value, str) and value in signs:
        return signs[value]
    raise FieldInvalid(
        Fault.NOT_ALLOWED,
        not_allowed(value, phrase("boat.one_of", words=tuple(signs))),
    )


def _minutes(value: Any) -> dict[str, float]:
    if not isinstance(value, Mapping):
        raise FieldInvalid(
            Fault.WRONG_TYPE,
            not_allowed(value, phrase("boat.appliance_minutes")),
        )
    number = Number(0, 1440, _MINUTES, above=True)
    minutes: dict[str, float] = {}
    for name, given in value.items():
        try:
            minutes[name_text(name)] = number(given)
        except FieldInvalid as error:
            error.prepend([str(name)])
            raise
    return minutes


def _check_sensors(sensors: Sensors) -> Iterator[FieldInvalid]:
    if sensors.battery_current and not sensors.has_battery_power:
        yield FieldInvalid(
            Fault.MISSING,
            phrase("boat.current_without_voltage"),
            ["battery_voltage"],
        )
    elif not (
        sensors.ac_load_power or sensors.dc_load_power or sensors.has_battery_power
    ):
        yield FieldInvalid(
            Fault.NO_LOAD,
            phrase("boat.no_load"),
        )
    seen: dict[str, Path] = {}
    for path, entity_id in sensor_paths(sensors):
        first = seen.setdefault(entity_id, path)
        if first != path:
            yield FieldInvalid(
                Fault.DUPLICATE,
                phrase(
                    "boat.sensor_twice",
                    entity_id=shown(entity_id),
                    field=path_text(first),
                ),
                path,
            )


def sensor_paths(sensors: Sensors) -> Iterator[tuple[Path, str]]:
    """Yield every sensor's field, from `sensors` on, with its entity id."""
    for field in SENSORS.fields:
        value = getattr(sensors, field.attribute)
        if isinstance(value, Sensor):
            yield (field.key,), value.entity_id
        elif isinstance(value, tuple):
            for index, sensor in enumerate(value):
                yield (field.key, index), sensor.entity_id


SENSORS: Final = Section(
    "sensors",
    Sensors,
    (
        Field("ac_load_power", "ac_load_power", _ONE_WAY, write=_write_power),
        Field("dc_load_power", "dc_load_power", _ONE_WAY, write=_write_power),
        Field("solar_power", "solar_power", OneOrMore(_ONE_WAY), write=_write_powers),
        Field(
            "other_charging_power",
            "other_charging_power",
            OneOrMore(_ONE_WAY),
            write=_write_powers,
        ),
        Field("battery_power", "battery_power", _POWER, write=_write_power),
        Field(
            "battery_current",
            "battery_current",
            _CURRENT,
            write=_sensor_writer(CURRENT_UNITS),
        ),
        Field(
            "battery_voltage",
            "battery_voltage",
            _VOLTAGE,
            write=_sensor_writer(VOLTAGE_UNITS),
        ),
        Field("battery_soc", "battery_soc", _SOC, write=_sensor_writer(SHARE_UNITS)),
        Field(
            "battery_temperature",
            "battery_temperature",
            _TEMPERATURE,
            write=_sensor_writer(TEMPERATURE_UNITS),
        ),
        Field(
            "position", "position", EntityId(PLACE_DOMAINS, phrase("boat.place_entity"))
        ),
        Field(
            "battery_power_positive",
            "battery_sign",
            _sign,
            write=lambda sign: "charging" if sign > 0 else "discharging",
        ),
    ),
    _check_sensors,
)

BANK: Final = Section(
    "bank",
    Bank,
    (
        Field("capacity_ah", "capacity_ah", Number(0, 1e5, "Ah", above=True), True),
        Field("nominal_voltage", "nominal_voltage_v", Number(5, 1000, "V"), True),
        Field(
            "reserve_soc",
            "reserve_soc",
            Number(0, 100, "%", below=True),
            True,
        ),
        Field("chemistry", "chemistry", OneOf(Chemistry), write=str),
        Field(
            "max_discharge_current",
            "max_discharge_current_a",
            Number(0, 1e4, "A", above=True),
        ),
        Field(
            "charge_efficiency",
            "charge_efficiency",
            Number(0.3, 1, hint=phrase("boat.share_95")),
        ),
        Field("peukert_exponent", "peukert_exponent", Number(1, 2)),
        Field("rated_hours", "rated_hours", Number(1, 200, "h")),
    ),
)

INVERTER: Final = Section(
    "inverter",
    Inverter,
    (
        Field(
            "continuous_power",
            "continuous_power_w",
            Number(50, 1e6, "W", hint=_WATTS),
            True,
        ),
        Field("idle_power", "idle_power_w", Number(0, 1000, "W")),
        Field(
            "efficiency",
            "efficiency",
            Number(0.3, 1, hint=phrase("boat.share_92")),
        ),
    ),
)

SOLAR: Final = Section(
    "solar",
    Solar,
    (
        Field("array_power", "array_power_w", Number(5, 1e6, "W", hint=_WATTS), True),
        Field("forecast", "forecast", OneOrMore(forecast_source), write=list),
    ),
)

APPLIANCE: Final = Section(
    "appliance",
    Appliance,
    (
        Field("name", "name", name_text, True, needs=phrase("boat.a_name")),
        Field("kind", "kind", OneOf(KINDS), True, write=str),
        Field("rated_power", "rated_power_w", Number(5, 5e4, "W", hint=_WATTS), True),
        Field("standby_power", "standby_power_w", Number(0, 1000, "W")),
        Field("power_sensor", "power_sensor", _ONE_WAY, write=_write_power),
        Field("supply", "supply", OneOf(Supply), write=str),
        Field("circuit", "circuit", name_text),
    ),
)

CIRCUIT: Final = Section(
    "circuit",
    Circuit,
    (
        Field("name", "name", name_text, True, needs=phrase("boat.a_name")),
        Field(
            "breaker_current",
            "breaker_current_a",
            Number(0, 1000, "A", above=True),
            True,
        ),
        Field("voltage", "voltage_v", Number(5, 1000, "V"), True),
        Field("relay", "relay", EntityId(SWITCH_DOMAINS, phrase("boat.switch_entity"))),
        Field("idle_minutes", "idle_minutes", Number(1, 1440, _MINUTES)),
        Field("cut", "cut", OneOf(CutRule), write=str),
        Field("other_loads", "other_loads", yes_or_no),
    ),
)

DISH: Final = Section(
    "dish",
    Dish,
    (
        Field("name", "name", name_text, True, needs=phrase("boat.a_name")),
        Field("appliances", "minutes", _minutes, write=_write_minutes),
        Field("energy", "energy_wh", Number(0, 1e5, "Wh", above=True)),
        Field("ready_by", "ready_by", clock_time, write=_write_time),
    ),
)

SECTIONS: Final[Mapping[str, Section[Any]]] = {
    section.name: section
    for section in (SENSORS, BANK, INVERTER, SOLAR, APPLIANCE, CIRCUIT, DISH)
}
