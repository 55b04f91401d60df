"""The files of one boat: each is written as a whole, put in place of the old one in one step.

So a power cut leaves the old file or the new one.
"""

from collections.abc import Mapping
from typing import Any, ClassVar, Final

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

STORAGE_VERSION: Final = 1


class BoatStore[T: Mapping[str, Any]](Store[T]):
    """One file of one boat, named after its config entry and what is in it.

    `large` says that the content is big enough to be written out outside the event loop.
    """

    file: ClassVar[str] = ""
    large: ClassVar[bool] = False

    def __init__(
        self, hass: HomeAssistant, entry_id: str, file: str | None = None
    ) -> None:
        """Name the file; `file` says which where a store has several."""
        name = self.file if file is None else file
        super().__init__(
            hass,
            STORAGE_VERSION,
            ".".join(part for part in (DOMAIN, entry_id, name) if part),
            atomic_writes=True,
            serialize_in_event_loop=not self.large,
        )


async def async_remove_stores(
    hass: HomeAssistant, entry_id: str, *stores: type[BoatStore[Any]]
) -> None:
    """Remove files of a boat that is removed."""
    for store in stores:
        await store(hass, entry_id).async_remove()
