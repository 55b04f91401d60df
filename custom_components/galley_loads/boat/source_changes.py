"""Putting one entity in another's place, wherever a boat names it."""

from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ..const import (
    CONF_POWER_SENSOR,
    CONF_RELAY,
    CONF_REVERSED,
    CONF_SENSORS,
    CONF_SOLAR,
    CONF_UNITS,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
)
from .reversed_meters import with_reversed
from .sensor_check import Quantity, recorded_unit


def _swapped(chosen: Any, old: str, new: str) -> Any:
    if isinstance(chosen, list):
        return list(dict.fromkeys(_swapped(one, old, new) for one in chosen))
    return new if chosen == old else chosen


def _section_swapped(section: Mapping[str, Any], old: str, new: str) -> dict[str, Any]:
    return {key: _swapped(chosen, old, new) for key, chosen in section.items()}


@callback
def async_replace_entity(
    hass: HomeAssistant, entry: ConfigEntry, old: str, new: str
) -> None:
    """Read `new` wherever `old` was read, in the unit and the direction of `old`."""
    data = dict(entry.data)
    data[CONF_SENSORS] = _section_swapped(data.get(CONF_SENSORS, {}), old, new)
    if CONF_SOLAR in data:
        data[CONF_SOLAR] = _section_swapped(data[CONF_SOLAR], old, new)
    units = dict(data.get(CONF_UNITS, {}))
    if old in units:
        units[new] = units.pop(old)
        data[CONF_UNITS] = units
    if CONF_REVERSED in data:
        data[CONF_REVERSED] = _swapped(data[CONF_REVERSED], old, new)
    for subentry_type, key in (
        (SUBENTRY_APPLIANCE, CONF_POWER_SENSOR),
        (SUBENTRY_CIRCUIT, CONF_RELAY),
    ):
        for subentry in entry.get_subentries_of_type(subentry_type):
            if subentry.data.get(key) == old:
                hass.config_entries.async_update_subentry(
                    entry, subentry, data={**subentry.data, key: new}
                )
    hass.config_entries.async_update_entry(entry, data=data)


@callback
def async_note_unit(
    hass: HomeAssistant, entry: ConfigEntry, entity_id: str, quantity: Quantity
) -> None:
    """Note the unit that a sensor has now."""
    units = dict(entry.data.get(CONF_UNITS, {}))
    units.pop(entity_id, None)
    if unit := recorded_unit(hass, quantity, entity_id):
        units[entity_id] = unit
    hass.config_entries.async_update_entry(
        entry, data={**entry.data, CONF_UNITS: units}
    )


@callback
def async_set_reversed(
    hass: HomeAssistant, entry: ConfigEntry, entity_id: str, reverse: bool
) -> None:
    """Read a meter with the other sign from now on, or with its own."""
    turned = [entity_id] if reverse else []
    data = with_reversed(entry.data, [entity_id], turned)
    hass.config_entries.async_update_entry(entry, data=data)
