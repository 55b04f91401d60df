"""A question in words: a dish, or an appliance and perhaps minutes, aboard some boat."""

from collections.abc import Mapping
from typing import Any, Final

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..core.boat.boat import Boat
from ..runtime import GalleyConfigEntry
from .advice_actions import async_advise
from .dish_input import CONF_APPLIANCES, CONF_DISH, CONF_READY_BY
from .spoken_advice import spoken

CONF_BOAT: Final = "boat"
CONF_APPLIANCE: Final = "appliance"
CONF_MINUTES: Final = "minutes"

USUAL_MINUTES: Final = 30.0
"""Where nobody says how long, and the appliance has not shown it yet."""


@callback
def loaded_boats(hass: HomeAssistant) -> list[GalleyConfigEntry]:
    """Return the boats that can be asked about."""
    return [
        entry
        for entry in hass.config_entries.async_entries(DOMAIN)
        if entry.state is ConfigEntryState.LOADED
    ]


@callback
def boat_named(hass: HomeAssistant, name: str | None) -> GalleyConfigEntry:
    """Return the boat of that name, or the only one.

    Raises:
        ServiceValidationError: there is none, or it is not clear which is meant.
    """
    boats = loaded_boats(hass)
    if name:
        wanted = name.strip().casefold()
        boats = [entry for entry in boats if entry.title.casefold() == wanted]
    if len(boats) != 1:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="which_boat",
            translation_placeholders={
                "boats": ", ".join(one.title for one in loaded_boats(hass)) or "-"
            },
        )
    return boats[0]


async def async_answer(
    entry: GalleyConfigEntry, asked: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the advice on what was asked, with `spoken` as it may be said aloud.

    Raises:
        ServiceValidationError: a dish or appliance that the boat does not have, or
            nothing named and nothing planned.
        HomeAssistantError: the recorder's past is still being read.
    """
    data: dict[str, Any] = {
        key: asked[key] for key in (CONF_DISH, CONF_READY_BY) if asked.get(key)
    }
    if CONF_DISH not in data and (appliance := asked.get(CONF_APPLIANCE)):
        minutes = asked.get(CONF_MINUTES)
        if minutes is None:
            minutes = usual_minutes(entry, str(appliance))
        data[CONF_APPLIANCES] = {appliance: minutes}
    answer = await async_advise(entry, data)
    answer["spoken"] = spoken(answer, entry.runtime_data.coordinator.boat.time_zone)
    return answer


def usual_minutes(entry: GalleyConfigEntry, appliance: str) -> float:
    """Return how long an appliance usually runs, by what it has shown."""
    result = entry.runtime_data.advice.result
    name = _appliance_name(entry.runtime_data.coordinator.boat, appliance)
    runs = () if result is None else result.view.cookbook.runs.get(name, ())
    if not runs:
        return USUAL_MINUTES
    lengths = sorted(row[0] for row in runs)
    return max(lengths[len(lengths) // 2], 1.0)


def _appliance_name(boat: Boat, name: str) -> str:
    wanted = name.strip().casefold()
    names = (a.name for a in boat.appliances if a.name.casefold() == wanted)
    return next(names, name)
