"""Energy counters by subentry: they rise, or they stand still.

The engine counts by appliance name and may start afresh (a changed boat, a damaged file);
counters live on. They take over what the engine's totals rose by, under keys that no
renaming touches.
"""

from collections.abc import Callable, Mapping
from typing import Final

from ..core.ledger.totals import Totals

GALLEY: Final = "galley"
BACKGROUND: Final = "background"
UNASSIGNED: Final = "unassigned"
LOAD: Final = "load"
GALLEY_SOLAR: Final = "galley_solar"
GALLEY_BANK_AH: Final = "galley_bank_ah"
UNMEASURED_S: Final = "unmeasured_s"


def standby_key(subentry_id: str) -> str:
    """Return the key of an appliance's standby counter."""
    return f"{subentry_id}_standby"


BOAT_SENSORS: Final[Mapping[str, str]] = {
    "galley_energy": GALLEY,
    "background_energy": BACKGROUND,
    "unassigned_energy": UNASSIGNED,
    "load_energy": LOAD,
    "not_measured": UNMEASURED_S,
}
"""The key of the counter that a sensor of the boat shows, by the sensor's key."""

APPLIANCE_SENSORS: Final[Mapping[str, Callable[[str], str]]] = {
    "energy": lambda subentry_id: subentry_id,
    "standby_energy": standby_key,
}
"""What makes the counter's key of a subentry id, by the key of an appliance's sensor."""


class Counters:
    """The counters of one boat, Wh unless the key says otherwise."""

    def __init__(self, values: Mapping[str, float] | None = None) -> None:
        """Start from stored values."""
        self._values: dict[str, float] = dict(values or {})
        self._seen: dict[str, float] = {}

    def as_mapping(self) -> dict[str, float]:
        """Return a copy of all counters, fit for storage."""
        return dict(self._values)

    def start_from(self, totals: Totals, names: Mapping[str, str]) -> None:
        """Take the engine's totals as counted already.

        `names` tells each appliance's name by subentry id.
        """
        self._seen = values_by_key(totals, names)

    def absorb(self, totals: Totals, names: Mapping[str, str]) -> None:
        """Add what the engine's totals rose by since the last time."""
        now = values_by_key(totals, names)
        for key, value in now.items():
            rise = max(0.0, value - self._seen.get(key, 0.0))
            self._values[key] = self._values.get(key, 0.0) + rise
        self._seen = now

    def raise_to(self, key: str, value: float) -> None:
        """Lift a counter to what was shown before, should it be lower."""
        self._values[key] = max(value, self._values.get(key, 0.0))

    def forget_appliances_but(self, subentry_ids: set[str]) -> None:
        """Drop the counters of appliances that were removed from the boat."""
        kept = {
            GALLEY,
            BACKGROUND,
            UNASSIGNED,
            LOAD,
            GALLEY_SOLAR,
            GALLEY_BANK_AH,
            UNMEASURED_S,
            *subentry_ids,
            *map(standby_key, subentry_ids),
        }
        self._values = {key: v for key, v in self._values.items() if key in kept}


def values_by_key(totals: Totals, names: Mapping[str, str]) -> dict[str, float]:
    """Return the engine's totals under the counters' keys."""
    values = {
        GALLEY: totals.galley_wh,
        BACKGROUND: totals.background_wh,
        UNASSIGNED: totals.unassigned_wh,
        LOAD: totals.load_wh,
        GALLEY_SOLAR: totals.galley_solar_wh,
        GALLEY_BANK_AH: totals.bank_ah,
        UNMEASURED_S: totals.unmeasured_s,
    }
    for subentry_id, name in names.items():
        values[subentry_id] = totals.appliance_wh.get(name, 0.0)
        values[standby_key(subentry_id)] = totals.standby_wh.get(name, 0.0)
    return values
