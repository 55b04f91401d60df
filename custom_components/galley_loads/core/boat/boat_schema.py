"""The boat description: the whole of it, and what its sections must agree on.

One schema serves a boat file and the forms of the interface: `parse_boat` reads a whole
description, each of `SECTIONS` reads its own part of one, and `boat_to_mapping` writes a
boat back in the form that `parse_boat` reads.
"""

from collections.abc import Iterator
from typing import Any, Final
from zoneinfo import ZoneInfo

import voluptuous as vol

from ..phrase import names_or_none, phrase
from .boat import Boat
from .boat_fields import Number, name_text, time_zone
from .boat_problems import (
    BoatError,
    Fault,
    FieldInvalid,
    Problem,
    path_text,
    problems_in,
    shown,
)
from .boat_section import Field, ListOf, Section
from .boat_sections import (
    APPLIANCE,
    BANK,
    CIRCUIT,
    DISH,
    INVERTER,
    SECTIONS,
    SENSORS,
    SOLAR,
    sensor_paths,
)

__all__ = ["BOAT", "SECTIONS", "boat_problems", "boat_to_mapping", "parse_boat"]


def _check_boat(boat: Boat) -> Iterator[FieldInvalid]:
    """Find what the sections must agree on."""
    yield from _check_names(boat)
    meters = {
        entity_id: path_text(("sensors", *path))
        for path, entity_id in sensor_paths(boat.sensors)
    }
    for index, appliance in enumerate(boat.appliances):
        if appliance.power_sensor is None:
            continue
        entity_id = appliance.power_sensor.entity_id
        where = f"appliances[{index}].power_sensor"
        if meters.setdefault(entity_id, where) != where:
            yield FieldInvalid(
                Fault.DUPLICATE,
                phrase(
                    "boat.sensor_twice",
                    entity_id=shown(entity_id),
                    field=meters[entity_id],
                ),
                ["appliances", index, "power_sensor"],
            )
    relays: dict[str, str] = {}
    for index, circuit in enumerate(boat.circuits):
        if circuit.relay is None:
            continue
        if relays.setdefault(circuit.relay, circuit.name) != circuit.name:
            yield FieldInvalid(
                Fault.DUPLICATE,
                phrase(
                    "boat.relay_twice",
                    entity_id=shown(circuit.relay),
                    circuit=relays[circuit.relay],
                ),
                ["circuits", index, "relay"],
            )
    sensors = boat.sensors
    if (
        boat.solar is not None
        and not sensors.solar_power
        and not (sensors.ac_load_power or sensors.dc_load_power)
    ):
        yield FieldInvalid(
            Fault.NO_LOAD,
            phrase("boat.array_without_sensor"),
            ["sensors", "solar_power"],
        )


def _check_names(boat: Boat) -> Iterator[FieldInvalid]:
    """Find appliances and circuits that are named and do not exist."""
    circuits = [circuit.name for circuit in boat.circuits]
    for index, appliance in enumerate(boat.appliances):
        if appliance.circuit is not None and appliance.circuit not in circuits:
            yield FieldInvalid(
                Fault.NOT_ALLOWED,
                phrase(
                    "boat.no_such_circuit",
                    name=shown(appliance.circuit),
                    circuits=names_or_none(circuits),
                ),
                ["appliances", index, "circuit"],
            )
    appliances = [appliance.name for appliance in boat.appliances]
    for index, dish in enumerate(boat.dishes):
        for name in dish.minutes:
            if name not in appliances:
                yield FieldInvalid(
                    Fault.NOT_ALLOWED,
                    phrase(
                        "boat.no_such_appliance",
                        name=shown(name),
                        appliances=names_or_none(appliances),
                    ),
                    ["dishes", index, "appliances", name],
                )


def _write_time_zone(zone: ZoneInfo) -> str:
    # Zones are shared by name within a process, and whoever asked first may have given a
    # name that is more than a plain string.
    return str(zone.key)


_APPLIANCES: Final = ListOf(APPLIANCE)
_CIRCUITS: Final = ListOf(CIRCUIT)
_DISHES: Final = ListOf(DISH)

BOAT: Final = Section(
    "boat",
    Boat,
    (
        Field("name", "name", name_text, True, needs=phrase("boat.a_name")),
        Field("latitude", "latitude", Number(-90, 90, phrase("boat.degrees")), True),
        Field(
            "longitude", "longitude", Number(-180, 180, phrase("boat.degrees")), True
        ),
        Field(
            "time_zone",
            "time_zone",
            time_zone,
            True,
            write=_write_time_zone,
            needs=phrase("boat.a_time_zone"),
        ),
        Field("sensors", "sensors", SENSORS, True, write=SENSORS.write),
        Field("bank", "bank", BANK, True, write=BANK.write),
        Field("inverter", "inverter", INVERTER, write=INVERTER.write),
        Field("solar", "solar", SOLAR, write=SOLAR.write),
        Field("appliances", "appliances", _APPLIANCES, write=_APPLIANCES.write),
        Field("circuits", "circuits", _CIRCUITS, write=_CIRCUITS.write),
        Field("dishes", "dishes", _DISHES, write=_DISHES.write),
        Field(
            "meal_gap_minutes",
            "meal_gap_minutes",
            Number(1, 720, phrase("boat.minutes")),
        ),
    ),
    _check_boat,
)


def parse_boat(description: Any) -> Boat:
    """Return the boat that a description tells of.

    Raises:
        BoatError: its phrase names field, value and what is allowed; its `problems` are all
            that was found.
    """
    try:
        return BOAT(description)
    except vol.Invalid as error:
        raise BoatError(problems_in(error)) from None


def boat_problems(description: Any) -> tuple[Problem, ...]:
    """Return everything that is wrong with a description; nothing if it can be used."""
    return BOAT.problems(description)


def boat_to_mapping(boat: Boat) -> dict[str, Any]:
    """Return the description of a boat; `parse_boat` reads it back as an equal boat."""
    return BOAT.write(boat)
