"""Loads that recur and that nobody named, offered as repairs.

The fix adds the appliance to the boat. A notice that is ignored stays ignored; one whose
load has not come for a month, or that is named by now, goes by itself.
"""

from datetime import timedelta
import time
from typing import Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.event import async_track_time_interval

from ..const import DOMAIN
from ..coordinator import GalleyCoordinator
from ..core.inference.learning.recurring_loads import RecurringLoad
from ..language.speech import english
from .notices import async_take_back

ISSUE_RECURRING: Final = "recurring_load"

LOOK: Final = timedelta(hours=1)
FIRST_LOOK_S: Final = 60.0

MOST_OFFERED: Final = 3
"""More at once would be a list of complaints."""

LEAST_COUNT: Final = 5
LEAST_WH_PER_DAY: Final = 5.0
RECENT_S: Final = 30 * 86_400.0
POWER_STEP: Final = 1.15
"""Powers within this factor are one notice, whatever the exact mean is today."""


class DiscoveryWatch:
    """Offers the recurring loads of one boat."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing offered."""
        self._hass = hass
        self._coordinator = coordinator
        self._entry = coordinator.config_entry

    @callback
    def async_start(self) -> CALLBACK_TYPE:
        """Look now and then until the returned function is called."""
        return async_track_time_interval(
            self._hass, self.async_look, LOOK, name=f"{self._entry.title} discovery"
        )

    async def async_look(self, _: object = None) -> None:
        """Offer what recurs now; take back what does not."""
        coordinator = self._coordinator
        if coordinator.catching_up or coordinator.provisional:
            return
        zone = coordinator.boat.time_zone
        loads = await coordinator.async_with_engine(
            lambda engine: engine.discovery.found(zone)
        )
        offered: dict[str, RecurringLoad] = {}
        for load in worth_offering(loads, time.time()):
            offered.setdefault(issue_id(self._entry.entry_id, load), load)
        start = f"{ISSUE_RECURRING}_{self._entry.entry_id}_"
        async_take_back(self._hass, start, offered)
        for name, load in offered.items():
            self._offer(name, load)

    def _offer(self, name: str, load: RecurringLoad) -> None:
        described = english().say(load.describe())
        ir.async_create_issue(
            self._hass,
            DOMAIN,
            name,
            is_fixable=True,
            severity=ir.IssueSeverity.WARNING,
            translation_key=ISSUE_RECURRING,
            translation_placeholders={
                "boat": self._entry.title,
                "load": described,
            },
            data={
                "entry_id": self._entry.entry_id,
                "load": described,
                "power_w": load.power_w,
                "duration_s": load.duration_s,
            },
        )


def worth_offering(
    loads: tuple[RecurringLoad, ...], now_s: float
) -> list[RecurringLoad]:
    """Return the loads that are worth a notice, the most energy first."""
    recent = [
        load
        for load in loads
        if load.count >= LEAST_COUNT
        and now_s - load.last_s <= RECENT_S
        and _wh_per_day(load) >= LEAST_WH_PER_DAY
    ]
    return sorted(recent, key=lambda load: -_wh_per_day(load))[:MOST_OFFERED]


def _wh_per_day(load: RecurringLoad) -> float:
    return load.power_w * load.duration_s * load.count / 3600.0 / load.days


def issue_id(entry_id: str, load: RecurringLoad) -> str:
    """Return the id of the notice: the same while power and length stay about the same."""
    return (
        f"{ISSUE_RECURRING}_{entry_id}_{_step(load.power_w, POWER_STEP)}"
        f"_{_step(load.duration_s, 2.0)}"
    )


def _step(value: float, factor: float) -> int:
    """Return in which step of a geometric scale a value lies."""
    step, edge = 0, 1.0
    while edge * factor <= value:
        edge *= factor
        step += 1
    return step


@callback
def async_forget_recurring(hass: HomeAssistant, entry_id: str) -> None:
    """Take back all notices about a boat that is removed."""
    async_take_back(hass, f"{ISSUE_RECURRING}_{entry_id}_")
