"""The one way from a config entry to a boat, and from a boat file to a config entry.

An entry keeps the sections of the boat file as they are; appliances, circuits and dishes
are its subentries. `boat_mapping` puts the file's form together again, and `parse_boat`,
the same that reads files, makes the boat of it. Nothing else reads the entry's data.
"""

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from homeassistant.config_entries import (
    ConfigEntry,
    ConfigSubentry,
    ConfigSubentryDataWithId,
)
from homeassistant.const import CONF_LATITUDE, CONF_LONGITUDE, CONF_NAME
from homeassistant.util.ulid import ulid_now

from ..const import (
    CONF_APPLIANCES,
    CONF_BANK,
    CONF_CIRCUIT,
    CONF_CIRCUITS,
    CONF_DISHES,
    CONF_INVERTER,
    CONF_MEAL_GAP,
    CONF_POWER_SENSOR,
    CONF_REVERSED,
    CONF_SENSORS,
    CONF_SOLAR,
    CONF_TIME_ZONE,
    CONF_UNITS,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
    SUBENTRY_DISH,
)
from ..core.boat.boat import Boat
from ..core.boat.boat_schema import parse_boat
from .sensor_check import ONE_WAY

ENTRY_KEYS = (
    CONF_NAME,
    CONF_LATITUDE,
    CONF_LONGITUDE,
    CONF_TIME_ZONE,
    CONF_SENSORS,
    CONF_BANK,
    CONF_INVERTER,
    CONF_SOLAR,
)


def subentry_unique_id(subentry_type: str, name: str) -> str:
    """Return what keeps two subentries of one boat from having the same name."""
    return f"{subentry_type}:{name.strip().casefold()}"


@dataclass(frozen=True, slots=True)
class BoatPart:
    """An appliance, circuit or dish: a subentry, or what is about to become one."""

    part_id: str
    name: str
    data: Mapping[str, Any]


def parts_of(entry: ConfigEntry, subentry_type: str) -> list[BoatPart]:
    """Return the entry's subentries of one type, in the order of their creation."""
    return [part_of(sub) for sub in entry.get_subentries_of_type(subentry_type)]


def part_of(subentry: ConfigSubentry) -> BoatPart:
    """Return a subentry as a part."""
    return BoatPart(subentry.subentry_id, subentry.title, subentry.data)


def boat_mapping(
    data: Mapping[str, Any],
    options: Mapping[str, Any] | None = None,
    appliances: Iterable[BoatPart] = (),
    circuits: Iterable[BoatPart] = (),
    dishes: Iterable[BoatPart] = (),
) -> dict[str, Any]:
    """Return the boat file's form of an entry's data, options and parts.

    A reference to a part that is gone is left out: an appliance whose circuit was removed
    is on no circuit, a dish loses that appliance's minutes.
    """
    appliances, circuits, dishes = list(appliances), list(circuits), list(dishes)
    names = {part.part_id: part.name for part in (*appliances, *circuits)}
    mapping: dict[str, Any] = {key: data[key] for key in ENTRY_KEYS if key in data}
    units, turned = data.get(CONF_UNITS, {}), data.get(CONF_REVERSED, ())
    mapping[CONF_SENSORS] = with_units(data.get(CONF_SENSORS, {}), units, turned)
    if appliances:
        mapping[CONF_APPLIANCES] = [
            _appliance_mapping(part, names, units, turned) for part in appliances
        ]
    if circuits:
        mapping[CONF_CIRCUITS] = [
            {CONF_NAME: part.name, **part.data} for part in circuits
        ]
    if dishes:
        mapping[CONF_DISHES] = [_dish_mapping(part, names) for part in dishes]
    if options and CONF_MEAL_GAP in options:
        mapping[CONF_MEAL_GAP] = options[CONF_MEAL_GAP]
    return mapping


def _appliance_mapping(
    part: BoatPart,
    names: Mapping[str, str],
    units: Mapping[str, str],
    turned: Container[str],
) -> dict[str, Any]:
    mapping = {CONF_NAME: part.name, **part.data}
    if (circuit := mapping.pop(CONF_CIRCUIT, None)) in names:
        mapping[CONF_CIRCUIT] = names[circuit]
    if (meter := mapping.get(CONF_POWER_SENSOR)) is not None:
        mapping[CONF_POWER_SENSOR] = with_unit(meter, units, turned)
    return mapping


def _dish_mapping(part: BoatPart, names: Mapping[str, str]) -> dict[str, Any]:
    mapping = {CONF_NAME: part.name, **part.data}
    if minutes := {
        names[part_id]: value
        for part_id, value in mapping.pop(CONF_APPLIANCES, {}).items()
        if part_id in names
    }:
        mapping[CONF_APPLIANCES] = minutes
    return mapping


def mapping_from_entry(entry: ConfigEntry) -> dict[str, Any]:
    """Return the entry in the boat file's form."""
    return boat_mapping(
        entry.data,
        entry.options,
        parts_of(entry, SUBENTRY_APPLIANCE),
        parts_of(entry, SUBENTRY_CIRCUIT),
        parts_of(entry, SUBENTRY_DISH),
    )


def boat_from_entry(entry: ConfigEntry) -> Boat:
    """Return the entry's boat.

    Raises:
        BoatError: the entry does not describe a boat; names the field and the value.
    """
    return parse_boat(mapping_from_entry(entry))


@dataclass(frozen=True, slots=True)
class EntryParts:
    """What a boat file becomes: entry data, options and subentries."""

    title: str
    data: dict[str, Any]
    options: dict[str, Any]
    subentries: list[ConfigSubentryDataWithId]


def with_unit(
    entity_id: str, units: Mapping[str, str], turned: Container[str]
) -> str | dict[str, Any]:
    """Return a sensor as the boat file writes it: a mapping only where it needs one.

    `units` has the units that are not the base unit, `turned` who counts backwards.
    """
    mapping: dict[str, Any] = {"entity": entity_id}
    if unit := units.get(entity_id):
        mapping["unit"] = unit
    if entity_id in turned:
        mapping["reversed"] = True
    return mapping if len(mapping) > 1 else entity_id


def with_units(
    sensors: Mapping[str, Any], units: Mapping[str, str], turned: Container[str]
) -> dict[str, Any]:
    """Return a sensors section, each sensor as the boat file writes it."""
    return {
        role: with_unit(chosen, units, turned if role in ONE_WAY else ())
        if isinstance(chosen, str)
        else [with_unit(one, units, turned) for one in chosen]
        if isinstance(chosen, list)
        else chosen
        for role, chosen in sensors.items()
    }


def split_unit(chosen: Any, units: dict[str, str], turned: list[str]) -> Any:
    """Return the plain entity id of a sensor, noting its unit and if it is reversed."""
    if isinstance(chosen, list):
        return [split_unit(one, units, turned) for one in chosen]
    if isinstance(chosen, Mapping):
        entity_id = chosen["entity"]
        if unit := chosen.get("unit"):
            units[entity_id] = unit
        if chosen.get("reversed"):
            turned.append(entity_id)
        return entity_id
    return chosen


def entry_from_mapping(mapping: Mapping[str, Any]) -> EntryParts:
    """Return the entry that a boat file becomes.

    `mapping` must have passed `parse_boat`. Names of circuits and appliances turn into
    the ids of their new subentries.
    """
    units: dict[str, str] = {}
    turned: list[str] = []
    data: dict[str, Any] = {key: mapping[key] for key in ENTRY_KEYS if key in mapping}
    data[CONF_SENSORS] = {
        role: split_unit(chosen, units, turned)
        for role, chosen in data.get(CONF_SENSORS, {}).items()
    }
    ids: dict[tuple[str, str], str] = {}
    found: list[tuple[str, dict[str, Any]]] = []
    for section, subentry_type in (
        (CONF_CIRCUITS, SUBENTRY_CIRCUIT),
        (CONF_APPLIANCES, SUBENTRY_APPLIANCE),
        (CONF_DISHES, SUBENTRY_DISH),
    ):
        for item in mapping.get(section) or ():
            found.append((subentry_type, dict(item)))
            ids[subentry_type, item[CONF_NAME]] = ulid_now()
    subentries: list[ConfigSubentryDataWithId] = []
    for subentry_type, item in found:
        name = item.pop(CONF_NAME)
        if circuit := item.pop(CONF_CIRCUIT, None):
            item[CONF_CIRCUIT] = ids[SUBENTRY_CIRCUIT, circuit]
        if meter := item.pop(CONF_POWER_SENSOR, None):
            item[CONF_POWER_SENSOR] = split_unit(meter, units, turned)
        if minutes := item.pop(CONF_APPLIANCES, None):
            item[CONF_APPLIANCES] = {
                ids[SUBENTRY_APPLIANCE, appliance]: value
                for appliance, value in minutes.items()
            }
        subentries.append(
            ConfigSubentryDataWithId(
                data=item,
                subentry_id=ids[subentry_type, name],
                subentry_type=subentry_type,
                title=name,
                unique_id=subentry_unique_id(subentry_type, name),
            )
        )
    if units:
        data[CONF_UNITS] = units
    if turned:
        data[CONF_REVERSED] = turned
    options = (
        {CONF_MEAL_GAP: mapping[CONF_MEAL_GAP]} if CONF_MEAL_GAP in mapping else {}
    )
    return EntryParts(mapping[CONF_NAME], data, options, subentries)
