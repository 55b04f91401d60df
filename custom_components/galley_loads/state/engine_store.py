"""What outlives a restart: the engine's state and the counters, two files per boat.

Each file is written as a whole and put in place of the old one in one step, so a power cut
leaves one or the other.
"""

from collections.abc import Mapping
from typing import Any, Final, TypedDict, override

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

STORAGE_VERSION: Final = 1
STORAGE_MINOR_VERSION: Final = 1


class StoredEngine(TypedDict):
    """The content of the file.

    `boat` is the boat in the file's form at the time of writing; the engine's state
    belongs to it. `names` tells which appliance had which subentry id then.
    """

    boat: dict[str, Any]
    names: dict[str, str]
    engine: dict[str, Any]
    counters: dict[str, float]


class EngineStore(Store[StoredEngine]):
    """The storage file of one boat."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Name the file after the config entry."""
        super().__init__(
            hass,
            STORAGE_VERSION,
            f"{DOMAIN}.{entry_id}",
            atomic_writes=True,
            minor_version=STORAGE_MINOR_VERSION,
            serialize_in_event_loop=False,
        )

    @override
    async def _async_migrate_func(
        self,
        old_major_version: int,
        old_minor_version: int,
        old_data: Mapping[str, Any],
    ) -> StoredEngine:
        """Keep the counters of any older file; its engine state starts anew."""
        return StoredEngine(
            boat={}, names={}, engine={}, counters=dict(old_data.get("counters", {}))
        )


class StoredJournal(TypedDict):
    """What came in since the state was stored: rows of entity id, state and time.

    `counters` are those that were shown when it was written.
    """

    readings: list[list[Any]]
    counters: dict[str, float]


class JournalStore(Store[StoredJournal]):
    """The journal file of one boat."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Name the file after the config entry."""
        super().__init__(
            hass,
            STORAGE_VERSION,
            f"{DOMAIN}.{entry_id}.journal",
            atomic_writes=True,
            minor_version=STORAGE_MINOR_VERSION,
        )


async def async_remove_stored(hass: HomeAssistant, entry_id: str) -> None:
    """Remove the files of one boat."""
    await EngineStore(hass, entry_id).async_remove()
    await JournalStore(hass, entry_id).async_remove()
