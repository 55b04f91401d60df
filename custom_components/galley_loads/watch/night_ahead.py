"""How the charge is expected to go until dawn, worked out while something runs."""

from collections.abc import Callable, Mapping
import time
from typing import Final

from homeassistant.core import HomeAssistant, callback

from ..coordinator import GalleyCoordinator
from ..core.live.live_view import LiveView
from ..core.occasions.night import NightOutlook, night_outlook

_EVERY_S: Final = 300.0
"""How often the night ahead is worked out anew while somebody cooks."""


class NightAhead:
    """The night ahead of one boat; `outlook` is None while nothing runs."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing expected."""
        self.outlook: NightOutlook | None = None
        self._hass = hass
        self._coordinator = coordinator
        self._at_s = float("-inf")

    @callback
    def look(
        self, view: LiveView, remaining_wh: Callable[[LiveView], Mapping[str, float]]
    ) -> None:
        """Work it out anew where that is due.

        `remaining_wh` returns what each running appliance is expected to take still, Wh.
        """
        if not any(now.running for now in view.appliances):
            self.outlook, self._at_s = None, float("-inf")
            return
        now_s = time.time()
        if 0 <= now_s - self._at_s < _EVERY_S:
            return
        self._at_s = now_s
        entry, meal = self._coordinator.config_entry, view.current_meal
        label = None if meal is None else meal.label
        entry.async_create_background_task(
            self._hass,
            self._async_work_out(now_s, remaining_wh(view), label),
            f"{entry.title} night ahead",
        )

    async def _async_work_out(
        self, now_s: float, remaining_wh: Mapping[str, float], label: str | None
    ) -> None:
        view = await self._coordinator.async_with_engine(
            lambda engine: engine.outlook().view()
        )
        outlook = await self._hass.async_add_executor_job(
            night_outlook, view, now_s, remaining_wh, label
        )
        # What ran may have ended meanwhile.
        if self._at_s == now_s:
            self.outlook = outlook
