"""What the watch over one boat keeps through a restart: the rules' state, reports, savings."""

from collections.abc import Mapping
import logging
import secrets
import time
from typing import Final, Self

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ..core.boat.boat import Boat
from ..core.cutting import CuttingRules
from ..core.occasions.reports import Reports
from ..state.savings import Savings
from ..state.watch_store import StoredWatch, WatchStore, renamed_rules
from .watch_options import WatchOptions

_LOGGER = logging.getLogger(__name__)

_SAVE_S: Final = 600.0


class WatchState:
    """The machines of one boat's watch, and the file that they outlive a restart in."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        circuit_names: Mapping[str, str],
        appliance_names: Mapping[str, str],
    ) -> None:
        """Know the names by subentry id; `rules` and `reports` come with `async_load`."""
        self._hass = hass
        self._entry = entry
        self._store = WatchStore(hass, entry.entry_id)
        self._appliance_names = dict(appliance_names)
        self._saved_s = 0.0
        self.circuit_names = dict(circuit_names)
        self.savings = Savings(circuit_names)
        self.rules: CuttingRules
        self.reports: Reports

    @classmethod
    async def async_load(
        cls,
        hass: HomeAssistant,
        entry: ConfigEntry,
        boat: Boat,
        options: WatchOptions,
        circuit_names: Mapping[str, str],
        appliance_names: Mapping[str, str],
    ) -> Self:
        """Return the state of a boat's watch as it was kept, or one without a past."""
        state = cls(hass, entry, circuit_names, appliance_names)
        state._begin(boat, options)
        stored = await state._store.async_load()
        if stored is not None:
            try:
                state._take_up(stored)
            except (KeyError, TypeError, ValueError) as err:
                _LOGGER.warning(
                    "%s: what the watch kept cannot be read: %r", entry.title, err
                )
                state._begin(boat, options)
            state.savings.go_on(stored, state.rules)
        state.savings.show(state.savings.count(state.rules))
        return state

    def _begin(self, boat: Boat, options: WatchOptions) -> None:
        self.rules = CuttingRules(
            boat,
            lambda: secrets.token_hex(8),
            options.quiet_hours,
            cut_in_quiet_hours=options.cut_in_quiet_hours,
        )
        self.reports = Reports(boat, options.kinds, options.quiet_hours)

    def _take_up(self, stored: StoredWatch) -> None:
        old, new = stored["circuits"], self.circuit_names
        self.rules.restore(renamed_rules(stored["rules"], old, new))
        # What was reported is kept by names; after a renaming it is another subject.
        if old == new and stored["appliances"] == self._appliance_names:
            self.reports.restore(stored["reports"])

    async def async_save(self) -> None:
        """Write everything; savings show only what has been written."""
        counted_wh = self.savings.count(self.rules)
        self._saved_s = time.time()
        await self._store.async_save(
            StoredWatch(
                circuits=self.circuit_names,
                appliances=self._appliance_names,
                rules=self.rules.snapshot(),
                reports=self.reports.snapshot(),
                saved_wh=counted_wh,
                gone_wh=self.savings.gone_wh,
            )
        )
        self.savings.show(counted_wh)

    @callback
    def async_save_soon(self) -> None:
        """Save at once: a question must outlive even a power cut."""
        self._saved_s = time.time()
        self._entry.async_create_task(
            self._hass, self.async_save(), f"{self._entry.title} watch is kept"
        )

    @callback
    def async_save_when_due(self) -> None:
        """Save what changes all the time every ten minutes."""
        if not 0 <= time.time() - self._saved_s < _SAVE_S:
            self.async_save_soon()
