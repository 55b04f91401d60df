"""What belongs to one boat alone: relays, and the meters that its load is known by.

Two boats with one relay would cut each other's cooking, and two with one meter would count
each other's load. So a relay, an appliance's own meter and a load meter are named by one
boat of the whole installation. Sun, forecasts, states of charge and positions may be shared.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry, ConfigEntryState
from homeassistant.core import HomeAssistant, callback

from ..const import (
    CONF_POWER_SENSOR,
    CONF_RELAY,
    CONF_SENSORS,
    DOMAIN,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
)
from .boat_entry import EntryParts, parts_of

LOAD_ROLES: Final = (
    "ac_load_power",
    "dc_load_power",
    "battery_power",
    "battery_current",
)
"""The sensors by which a boat's load is known."""


@dataclass(frozen=True, slots=True)
class Claim:
    """An entity that belongs to a boat already."""

    entity_id: str
    boat: ConfigEntry

    @property
    def problem(self) -> str:
        """Which entity, and whose, for the placeholder of a form's error."""
        return f"{self.entity_id} ({self.boat.title})"


def load_meters(sensors: Mapping[str, Any]) -> dict[str, str]:
    """Return the meters of a sensors section that belong to one boat, by role."""
    return {role: sensors[role] for role in LOAD_ROLES if sensors.get(role)}


def claimed_by(entry: ConfigEntry) -> set[str]:
    """Return every entity that belongs to a boat alone."""
    return {
        *load_meters(entry.data.get(CONF_SENSORS, {})).values(),
        *_named(entry, SUBENTRY_APPLIANCE, CONF_POWER_SENSOR),
        *relays_of(entry),
    }


def claims_in(parts: EntryParts) -> list[str]:
    """Return every entity that would belong alone to the boat of a boat file."""
    keys = {SUBENTRY_APPLIANCE: CONF_POWER_SENSOR, SUBENTRY_CIRCUIT: CONF_RELAY}
    named = (
        part["data"].get(keys.get(part["subentry_type"], ""))
        for part in parts.subentries
    )
    meters = load_meters(parts.data.get(CONF_SENSORS, {})).values()
    return [*meters, *(entity_id for entity_id in named if entity_id)]


def relays_of(entry: ConfigEntry) -> set[str]:
    """Return the relays of a boat's circuits."""
    return set(_named(entry, SUBENTRY_CIRCUIT, CONF_RELAY))


def _named(entry: ConfigEntry, subentry_type: str, key: str) -> Iterator[str]:
    for part in parts_of(entry, subentry_type):
        if entity_id := part.data.get(key):
            yield entity_id


@callback
def claim_of_another(
    hass: HomeAssistant, entity_ids: Iterable[str], own: ConfigEntry | None
) -> Claim | None:
    """Return the first of some entities that another boat has, None if they are free.

    A boat that is disabled keeps what it has: it may be enabled again.
    """
    others = [
        one for one in hass.config_entries.async_entries(DOMAIN) if one is not own
    ]
    held = {entity_id: one for one in others for entity_id in claimed_by(one)}
    for entity_id in entity_ids:
        if (boat := held.get(entity_id)) is not None:
            return Claim(entity_id, boat)
    return None


@callback
def claim_at_start(hass: HomeAssistant, entry: ConfigEntry) -> Claim | None:
    """Return what keeps a boat from starting: an older boat's, or a running one's."""
    wanted = claimed_by(entry)
    entries = hass.config_entries.async_entries(DOMAIN)
    age = {one.entry_id: (one.created_at, i) for i, one in enumerate(entries)}
    for other in entries:
        comes_first = (
            other.state is ConfigEntryState.LOADED
            or age[other.entry_id] < age[entry.entry_id]
        )
        if other is entry or other.disabled_by is not None or not comes_first:
            continue
        if common := sorted(wanted & claimed_by(other)):
            return Claim(common[0], other)
    return None


@callback
def relays_of_others(hass: HomeAssistant, own: ConfigEntry) -> set[str]:
    """Return the relays that other boats name, running or not, disabled ones left out."""
    return {
        relay
        for other in hass.config_entries.async_entries(DOMAIN)
        if other is not own and other.disabled_by is None
        for relay in relays_of(other)
    }
