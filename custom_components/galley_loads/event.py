"""Events: what happens about a circuit's relay, and what the crew is told."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .coordinator import GalleyConfigEntry
from .watch_events import async_add_watch_events

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's and the circuits' events."""
    async_add_watch_events(entry, async_add_entities)
