"""The order in which one boat's present is looked at, for as long as it is loaded.

First the circuits, then the answers from phones, then what has occurred. Each part does
its own; here they only get the present.
"""

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import Event, HomeAssistant, callback

from ..coordinator import GalleyCoordinator
from ..state.watch_store import WatchStore
from .circuit_cutting import CircuitCutting
from .night_ahead import NightAhead
from .occurrence_reports import OccurrenceReports
from .phone_answers import PhoneAnswers
from .stuck_relays import async_forget_stuck
from .watch_present import WatchPresent
from .watch_state import WatchState


class GalleyWatch:
    """Looks at the boat whenever something has changed."""

    def __init__(
        self,
        state: WatchState,
        present: WatchPresent,
        night: NightAhead,
        circuits: CircuitCutting,
        answers: PhoneAnswers,
        occurrences: OccurrenceReports,
    ) -> None:
        """Hand the present to these, in this order."""
        self._state = state
        self._present = present
        self._night = night
        self._circuits = circuits
        self._answers = answers
        self._occurrences = occurrences

    @callback
    def async_start(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Begin to watch."""
        self._circuits.async_start()
        self._answers.async_start()
        for unsubscribe in (
            hass.bus.async_listen_once(EVENT_HOMEASSISTANT_STOP, self._async_stops),
            self._present.async_listen(self._async_look),
            coordinator.async_add_listener(self._async_updated),
            coordinator.async_subscribe(self._occurrences.async_settled),
        ):
            coordinator.config_entry.async_on_unload(unsubscribe)

    async def async_stop(self) -> None:
        """Keep what is known, once nothing comes in any more."""
        await self._state.async_save()

    async def _async_stops(self, _: Event) -> None:
        await self._state.async_save()

    @callback
    def _async_updated(self) -> None:
        """Take over the present, and look at it."""
        self._present.see()
        if (view := self._present.view) is not None:
            self._night.look(view, self._state.reports.watch.remaining_wh)
        self._async_look()

    @callback
    def _async_look(self) -> None:
        """Look at the boat, and do what the rules say."""
        moment = self._present.settled_moment()
        if moment is None:
            return
        self._circuits.async_observe(moment)
        self._answers.async_give(moment)
        self._occurrences.async_observe(moment)
        self._state.async_save_when_due()


async def async_forget_watch(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Remove what was kept about a boat, and its repairs."""
    await WatchStore(hass, entry.entry_id).async_remove()
    async_forget_stuck(hass, entry)
