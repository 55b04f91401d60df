"""Events: what the galley does, and what happens about a circuit's relay."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entities.occurrence_events import async_add_occurrence_events
from .entities.watch_events import async_add_watch_events
from .runtime import GalleyConfigEntry

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's and the appliances' events."""
    async_add_occurrence_events(entry, async_add_entities)
    async_add_watch_events(entry, async_add_entities)
