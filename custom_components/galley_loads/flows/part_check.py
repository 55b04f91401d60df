"""What is wrong with a part as it would stand in its boat."""

from typing import Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ..boat.boat_entry import BoatPart, boat_mapping, parts_of
from ..const import (
    CONF_APPLIANCES,
    CONF_CIRCUITS,
    CONF_DISHES,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
    SUBENTRY_DISH,
)
from ..core.boat.boat_problems import Problem
from ..core.boat.boat_schema import boat_problems

SECTION_OF: Final = {
    SUBENTRY_APPLIANCE: CONF_APPLIANCES,
    SUBENTRY_CIRCUIT: CONF_CIRCUITS,
    SUBENTRY_DISH: CONF_DISHES,
}

NEW_PART_ID: Final = "new"


async def async_part_problems(
    hass: HomeAssistant, entry: ConfigEntry, part_type: str, part: BoatPart
) -> list[Problem]:
    """Return what is wrong with a part that is new in the boat, or changed.

    The boat is read by the same schema as boat files.
    """
    parts = {kind: parts_of(entry, kind) for kind in SECTION_OF}
    others = [one for one in parts[part_type] if one.part_id != part.part_id]
    # Last, so that of two equal names this one is at fault.
    parts[part_type] = [*others, part]
    mapping = boat_mapping(
        entry.data,
        entry.options,
        parts[SUBENTRY_APPLIANCE],
        parts[SUBENTRY_CIRCUIT],
        parts[SUBENTRY_DISH],
    )
    problems = await hass.async_add_executor_job(boat_problems, mapping)
    here = (SECTION_OF[part_type], len(others))
    return [problem for problem in problems if problem.path[:2] == here]
