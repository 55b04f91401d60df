"""Diagnostics: the boat as it is set up and what the engine knows, place and names hidden."""

from dataclasses import asdict
from typing import Any

from homeassistant.components.diagnostics import async_redact_data
from homeassistant.const import CONF_LATITUDE, CONF_LONGITUDE
from homeassistant.core import HomeAssistant

from .boat.boat_entry import mapping_from_entry
from .boat.boat_sensors import watched_of
from .boat.pseudonyms import Pseudonyms
from .const import CONF_APPLIANCES, CONF_DISHES, CONF_TIME_ZONE
from .language.speech import english
from .runtime import GalleyConfigEntry, GalleyRuntime

VIEW = ("load_w", "galley_w", "background_w", "unassigned_w", "standby_w", "soc")

REDACTED = {
    CONF_LATITUDE,
    CONF_LONGITUDE,
    CONF_TIME_ZONE,
    "position",
}


async def async_get_config_entry_diagnostics(
    hass: HomeAssistant, entry: GalleyConfigEntry
) -> dict[str, Any]:
    """Return what helps to see why a boat is told wrong."""
    runtime = entry.runtime_data
    boat = mapping_from_entry(entry)
    boat[CONF_DISHES] = [
        {**dish, CONF_APPLIANCES: list(dish.get(CONF_APPLIANCES, {}).values())}
        for dish in boat.get(CONF_DISHES, ())
    ]
    names = Pseudonyms(runtime.coordinator.boat, entry.title, watched_of(entry))
    known = names.hidden({"boat": boat} | _what_is_known(runtime))
    return async_redact_data(known, REDACTED)


def _what_is_known(runtime: GalleyRuntime) -> dict[str, Any]:
    """Return what the engine knows, appliances by kind instead of name."""
    view = runtime.coordinator.data
    return {
        "appliances": [
            {
                "kind": str(appliance.kind),
                "learned": None
                if (power := runtime.coordinator.known.learned.get(appliance.name))
                is None
                else asdict(power),
            }
            for appliance in runtime.coordinator.boat.appliances
        ],
        "catching_up": runtime.coordinator.catching_up,
        "provisional": runtime.coordinator.provisional,
        "counters": runtime.coordinator.counters,
        "lost": runtime.coordinator.sources.lost,
        "missing": [] if view is None else english().say_all(view.complaints),
        "latest_s": runtime.coordinator.known.latest_s,
        "settled_until_s": runtime.coordinator.known.settled_until_s,
        "view": None if view is None else {key: getattr(view, key) for key in VIEW},
    }
