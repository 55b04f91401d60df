"""The boat's own sensors and relays: platform states become readings.

Each sensor's unit was noted when it was chosen. A state in another unit that can be
converted is converted; one that cannot be is as good as unavailable. `SourceWatch` tells
the owner about both.
"""

from collections.abc import Mapping
import logging
import time
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import (
    ATTR_UNIT_OF_MEASUREMENT,
    STATE_UNAVAILABLE,
    STATE_UNKNOWN,
)
from homeassistant.core import HomeAssistant, State, valid_entity_id

from ..const import (
    CONF_FORECAST,
    CONF_POWER_SENSOR,
    CONF_RELAY,
    CONF_SENSORS,
    CONF_SOLAR,
    CONF_UNITS,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
)
from ..core.metering.reading import Reading
from .boat_entry import parts_of
from .sensor_check import MEASURES, Quantity, convert, sensors_of

_LOGGER = logging.getLogger(__name__)


def quantities_of(entry: ConfigEntry) -> dict[str, Quantity]:
    """Return every entity that the entry reads, with what it measures."""
    found = sensors_of(entry.data.get(CONF_SENSORS, {}))
    for part in parts_of(entry, SUBENTRY_APPLIANCE):
        if meter := part.data.get(CONF_POWER_SENSOR):
            found[meter] = Quantity.POWER
    for part in parts_of(entry, SUBENTRY_CIRCUIT):
        if relay := part.data.get(CONF_RELAY):
            found[relay] = Quantity.SWITCH
    return found


def watched_of(entry: ConfigEntry) -> dict[str, Quantity]:
    """Return every entity that the boat names, those included that others read."""
    forecasts = entry.data.get(CONF_SOLAR, {}).get(CONF_FORECAST) or []
    forecasts = [forecasts] if isinstance(forecasts, str) else forecasts
    return quantities_of(entry) | {
        one: Quantity.FORECAST for one in forecasts if valid_entity_id(one)
    }


def wanted_unit(quantity: Quantity, entity_id: str, units: Mapping[str, Any]) -> str:
    """Return the unit in which a sensor's numbers are expected, "" for none."""
    if (measure := MEASURES.get(quantity)) is None:
        return ""
    return str(units.get(entity_id, measure.kept_units[0]))


class Sources:
    """Reads the states of the entities of one boat."""

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry) -> None:
        """Take the entities from the entry."""
        self._hass = hass
        self._name = entry.title
        self._quantities = {
            entity_id: quantity
            for entity_id, quantity in quantities_of(entry).items()
            if quantity is not Quantity.POSITION
        }
        self._units = entry.data.get(CONF_UNITS, {})
        self._lost: set[str] = set()

    @property
    def entity_ids(self) -> list[str]:
        """Every entity that is listened to, sorted."""
        return sorted(self._quantities)

    @property
    def lost(self) -> list[str]:
        """The entities that give no value at present, sorted."""
        return sorted(self._lost)

    def reading(self, entity_id: str, state: State | None, at_s: float) -> Reading:
        """Return a state as a reading; a state that is gone is an unavailable one."""
        text = STATE_UNAVAILABLE if state is None else self.text(state)
        self._note_lost(entity_id, text in (STATE_UNAVAILABLE, STATE_UNKNOWN))
        return Reading(entity_id, text, at_s)

    def present_readings(self) -> list[Reading]:
        """Return what every entity says now, as of now."""
        now_s = time.time()
        return [
            self.reading(entity_id, state, now_s)
            for entity_id in self.entity_ids
            if (state := self._hass.states.get(entity_id)) is not None
        ]

    def has_expected_unit(self, state: State) -> bool:
        """Whether a state's number can be taken as it is."""
        unit = state.attributes.get(ATTR_UNIT_OF_MEASUREMENT)
        expected = self._expected_unit(state.entity_id)
        return unit is None or not expected or bool(unit == expected)

    def text(self, state: State) -> str:
        """Return a state's text, its number in the unit that is expected."""
        if self.has_expected_unit(state):
            return state.state
        if state.state in (STATE_UNAVAILABLE, STATE_UNKNOWN):
            return state.state
        entity_id = state.entity_id
        return (
            convert(
                self._quantities[entity_id],
                state.state,
                state.attributes[ATTR_UNIT_OF_MEASUREMENT],
                self._expected_unit(entity_id),
            )
            or STATE_UNAVAILABLE
        )

    def _expected_unit(self, entity_id: str) -> str:
        return wanted_unit(self._quantities[entity_id], entity_id, self._units)

    def _note_lost(self, entity_id: str, lost: bool) -> None:
        """Write one line when a source is lost, one when it is back."""
        if lost and entity_id not in self._lost:
            self._lost.add(entity_id)
            _LOGGER.info("%s: %s gives no value", self._name, entity_id)
        elif not lost and entity_id in self._lost:
            self._lost.discard(entity_id)
            _LOGGER.info("%s: %s gives values again", self._name, entity_id)
