"""What the watch over the circuits keeps: questions, keeps, log, savings, what was reported.

Everything is kept by names; the names of that time are kept with it, so that a circuit
that was renamed meanwhile keeps its state.
"""

from collections.abc import Mapping
from typing import Any, Final, TypedDict

from homeassistant.core import HomeAssistant
from homeassistant.helpers.storage import Store

from ..const import DOMAIN

STORAGE_VERSION: Final = 1


class StoredWatch(TypedDict):
    """The content of the file.

    `circuits` gives each circuit's name by subentry id, `saved_wh` the standby that cuts
    have saved by subentry id, `gone_wh` that of circuits that have been removed.
    """

    circuits: dict[str, str]
    appliances: dict[str, str]
    desk: dict[str, Any]
    reports: dict[str, Any]
    saved_wh: dict[str, float]
    gone_wh: float


class WatchStore(Store[StoredWatch]):
    """The storage file of one boat's watch."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Name the file after the config entry."""
        super().__init__(
            hass, STORAGE_VERSION, f"{DOMAIN}.{entry_id}.watch", atomic_writes=True
        )


def renamed_desk(
    desk: Mapping[str, Any], old: Mapping[str, str], new: Mapping[str, str]
) -> dict[str, Any]:
    """Return a desk's state under the circuits' new names.

    `old` and `new` give names by subentry id. Questions are closed by a renaming: they
    were asked about a circuit that is now called otherwise.
    """
    if old == new:
        return dict(desk)
    names = {name: new[part_id] for part_id, name in old.items() if part_id in new}
    cases = {names[name]: case for name, case in desk["cases"].items() if name in names}
    return {**desk, "cases": cases, "questions": []}
