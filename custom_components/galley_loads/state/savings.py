"""The standby that cuts have saved: a counter that outlives renaming and removal."""

from collections.abc import Mapping

from ..core.cutting import CuttingRules
from .watch_store import StoredWatch


class Savings:
    """Counts by circuit subentry id; shows only what has been written to disk.

    The rules count from where their own state was restored. What they do not know of (their
    state could not be read) is kept as a base.
    """

    def __init__(self, circuit_names: Mapping[str, str]) -> None:
        """Know the circuits' names by subentry id."""
        self._names = circuit_names
        self._base_wh: dict[str, float] = {}
        self.gone_wh = 0.0
        self.shown_wh: dict[str, float] = {}

    def go_on(self, stored: StoredWatch, rules: CuttingRules) -> None:
        """Go on from what was kept, with rules that may have been restored from it."""
        saved_wh = stored["saved_wh"]
        self.gone_wh = stored["gone_wh"] + sum(
            energy_wh
            for part_id, energy_wh in saved_wh.items()
            if part_id not in self._names
        )
        self._base_wh = {
            part_id: max(0.0, saved_wh.get(part_id, 0.0) - rules.saved_wh(name))
            for part_id, name in self._names.items()
        }

    def count(self, rules: CuttingRules) -> dict[str, float]:
        """Return what each circuit has saved by now, Wh."""
        return {
            part_id: self._base_wh.get(part_id, 0.0) + rules.saved_wh(name)
            for part_id, name in self._names.items()
        }

    def show(self, counted_wh: dict[str, float]) -> None:
        """Show what has been written."""
        self.shown_wh = counted_wh

    @property
    def total_wh(self) -> float:
        """What is shown for the boat, circuits that were removed included."""
        return self.gone_wh + sum(self.shown_wh.values())
