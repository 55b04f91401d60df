"""The timers of one boat's appliances, as people set and cancel them."""

import time

from homeassistant.core import callback

from ..core.occasions.timers import Timer, Timers
from .watch_present import WatchPresent
from .watch_state import WatchState


class ApplianceTimers:
    """Sets and cancels timers, and keeps them."""

    def __init__(
        self, timers: Timers, present: WatchPresent, state: WatchState
    ) -> None:
        """Act on the timers of the boat's reports."""
        self._timers = timers
        self._present = present
        self._state = state

    def get(self, appliance: str) -> Timer | None:
        """Return an appliance's timer, None if none is set."""
        return self._timers.get(appliance)

    @callback
    def async_set(self, appliance: str, minutes: float) -> Timer:
        """Set an appliance's timer.

        Raises:
            PhrasedError: it holds no temperature, or the minutes make no sense.
        """
        timer = self._timers.set(appliance, minutes, time.time())
        self._keep()
        return timer

    @callback
    def async_cancel(self, appliance: str) -> bool:
        """Drop an appliance's timer; return whether there was one."""
        was_set = self._timers.cancel(appliance)
        self._keep()
        return was_set

    def _keep(self) -> None:
        self._present.async_look_again()
        self._state.async_save_soon()
