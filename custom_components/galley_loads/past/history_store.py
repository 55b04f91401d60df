"""How far the recorder's past was worked through, one file per boat.

The file outlives restarts, so that a long backfill goes on where it was interrupted, and
keeps from when on each counter counts by itself, so that the past is never counted twice.
"""

from collections.abc import Mapping
from typing import Any, Final, TypedDict, override

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

STORAGE_VERSION: Final = 1
STORAGE_MINOR_VERSION: Final = 1


class StoredRun(TypedDict):
    """A backfill that is under way: the boat it is for, and what it has so far."""

    boat: dict[str, Any]
    past: dict[str, Any]


class StoredHistory(TypedDict):
    """The content of the file.

    `first_start_s` is when the boat was set up. `live_from_s` tells for each counter
    since when it is there, `counts_from_s` from when on it counts; what lies before is the
    past, and belongs to the statistics only. `boat` is the boat as which the past was read
    last, None if it never was. `run` is a backfill that is not finished.
    """

    first_start_s: float
    live_from_s: dict[str, float]
    counts_from_s: dict[str, float]
    boat: dict[str, Any] | None
    run: StoredRun | None


class HistoryStore(Store[StoredHistory]):
    """The storage file of one boat's backfill."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Name the file after the config entry."""
        super().__init__(
            hass,
            STORAGE_VERSION,
            f"{DOMAIN}.{entry_id}.history",
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
    ) -> StoredHistory:
        """Keep from when on counters count; a backfill under way starts anew."""
        return StoredHistory(
            first_start_s=old_data["first_start_s"],
            live_from_s=dict(old_data.get("live_from_s", {})),
            counts_from_s=dict(old_data.get("counts_from_s", {})),
            boat=old_data.get("boat"),
            run=None,
        )
