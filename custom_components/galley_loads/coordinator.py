"""The runtime owner of one boat: state changes in, engine, a view for the entities out.

The engine runs in the event loop, one reading at a time: what it does per reading is far
below a millisecond. Only the past (catching up after a restart) is worked through in the
executor; live readings wait in a queue meanwhile.
"""

import asyncio
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import asdict
from datetime import timedelta
import logging
import time
from typing import Any, Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    EventStateReportedData,
    HomeAssistant,
    callback,
)
from homeassistant.helpers.event import (
    async_call_later,
    async_track_state_change_event,
    async_track_state_report_event,
    async_track_time_interval,
)
from homeassistant.helpers.update_coordinator import DataUpdateCoordinator

from .boat_entry import mapping_from_entry, parts_of
from .catch_up import async_read_gap
from .const import SUBENTRY_APPLIANCE
from .core.boat import Boat
from .core.engine import Engine
from .core.events import Event as EngineEvent, MealSettled
from .core.live import LiveView
from .core.readings import Reading
from .counters import Counters
from .engine_state import renamed, take_up
from .engine_store import EngineStore, StoredEngine
from .sources import Sources

_LOGGER = logging.getLogger(__name__)

TICK: Final = timedelta(seconds=10)
"""How often time is made to pass without a reading."""

SHORTEST_UPDATE_S: Final = 2.0
"""Entities are told of readings at most this often."""

SAVE_WHILE_COOKING_S: Final = 20.0
SAVE_OTHERWISE_S: Final = 600.0
"""How old the saved state may get. Whatever is younger is read again from the recorder."""

LIVE_EVENT_S: Final = 3 * 3600.0
"""What was settled later than this after it happened is history, not news."""

type GalleyConfigEntry = ConfigEntry[GalleyCoordinator]

type EventListener = Callable[[list[EngineEvent], bool], None]
"""Called with what was settled, and whether it is news (False: found in the past)."""


class GalleyCoordinator(DataUpdateCoordinator[LiveView | None]):
    """Owns the engine of one boat.

    `data` is the present as the engine sees it, None until it is known. `counters` holds
    the energies that were written to disk, by key; only those are shown.
    """

    config_entry: GalleyConfigEntry

    boat_device_id: str

    def __init__(
        self, hass: HomeAssistant, entry: GalleyConfigEntry, boat: Boat
    ) -> None:
        """Start with the boat that the entry describes, without a past."""
        super().__init__(
            hass, _LOGGER, config_entry=entry, name=entry.title, update_interval=None
        )
        self.boat = boat
        self.appliance_names = {
            part.part_id: part.name for part in parts_of(entry, SUBENTRY_APPLIANCE)
        }
        self.engine = Engine(self.boat)
        self.sources = Sources(hass, entry)
        self.counters: dict[str, float] = {}
        self._mapping = mapping_from_entry(entry)
        self._renamed: dict[str, str] = {}
        self.catching_up = False
        self._counting = Counters()
        self._store = EngineStore(hass, entry.entry_id)
        self._event_listeners: list[EventListener] = []
        self._queue: list[Reading] = []
        self._settled: list[EngineEvent] = []
        self._published_s = 0.0
        self._saved_s = 0.0
        self._dirty = False
        self._stopped = False
        self._saving = asyncio.Lock()
        self._update_later: CALLBACK_TYPE | None = None

    # Life

    async def async_start(self) -> None:
        """Restore what was saved, listen, and catch up with the time between."""
        await self._async_restore()
        entry = self.config_entry
        sources = self.sources
        self.catching_up = True
        entry.async_on_unload(
            async_track_state_change_event(
                self.hass, sources.entity_ids, self._async_state_changed
            )
        )
        entry.async_on_unload(
            async_track_state_report_event(
                self.hass, sources.entity_ids, self._async_state_reported
            )
        )
        entry.async_on_unload(
            async_track_time_interval(
                self.hass, self._async_tick, TICK, name=f"{entry.title} tick"
            )
        )
        entry.async_on_unload(
            self.hass.bus.async_listen_once(
                EVENT_HOMEASSISTANT_STOP, self._async_home_assistant_stops
            )
        )
        entry.async_create_background_task(
            self.hass, self._async_catch_up(), f"{entry.title} catches up"
        )

    async def async_stop(self) -> None:
        """Save, once nothing comes in any more."""
        self._stopped = True
        if self._update_later is not None:
            self._update_later()
            self._update_later = None
        await self._async_save()

    async def _async_home_assistant_stops(self, _: Event) -> None:
        await self._async_save()

    @callback
    def async_subscribe(self, listener: EventListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that becomes settled, until unsubscribed."""
        self._event_listeners.append(listener)

        @callback
        def unsubscribe() -> None:
            with suppress(ValueError):
                self._event_listeners.remove(listener)

        return unsubscribe

    def diagnostics(self) -> dict[str, Any]:
        """Return what the engine knows, without names and places."""
        learned = self.engine.inference.learned
        view = self.data
        return {
            "appliances": [
                {
                    "kind": appliance.kind.value,
                    "learned": None
                    if (power := learned.get(appliance.name)) is None
                    else asdict(power),
                }
                for appliance in self.boat.appliances
            ],
            "catching_up": self.catching_up,
            "counters": self.counters,
            "lost": self.sources.lost,
            "missing": [] if view is None else list(view.missing),
            "latest_s": self.engine.latest_s,
            "settled_until_s": self.engine.settled_until_s,
            "view": None
            if view is None
            else {
                key: getattr(view, key)
                for key in ("load_w", "galley_w", "background_w", "unassigned_w")
            },
        }

    # The saved state

    async def _async_restore(self) -> None:
        stored = await self._store.async_load()
        if stored is None:
            return
        taken = await self.hass.async_add_executor_job(
            take_up, self.boat, self.appliance_names, stored
        )
        self.engine = taken.engine
        self._counting = taken.counters
        self._settled = taken.events
        self.counters = self._counting.as_mapping()

    async def _async_save(self) -> None:
        """Write the state, then show the counters that it holds.

        While the past is being worked through there is nothing new to save: it would be
        worked through again.
        """
        if self.catching_up:
            return
        async with self._saving:
            counters = self._counting.as_mapping()
            self._saved_s = time.time()
            self._dirty = False
            await self._store.async_save(
                StoredEngine(
                    boat=renamed(self._mapping, self._renamed),
                    names=self.appliance_names,
                    engine=renamed(self.engine.snapshot(), self._renamed),
                    counters=counters,
                )
            )
            self.counters = counters

    @callback
    def async_lift_counter(self, key: str, value: float) -> None:
        """Never show less than was shown before the restart."""
        self._counting.raise_to(key, value)
        self.counters[key] = max(value, self.counters.get(key, 0.0))

    @callback
    def async_entity_renamed(self, old: str, new: str) -> None:
        """Save under the new id what was read from the old; the entry changes next."""
        self._renamed[old] = new

    # The past

    async def _async_catch_up(self) -> None:
        """Work through what the recorder kept since the state was saved."""
        since_s = self.engine.latest_s
        try:
            if since_s is not None:
                readings = await async_read_gap(
                    self.hass, self.sources.entity_ids, since_s, time.time()
                )
                await self.hass.async_add_executor_job(self._work_through, readings)
        finally:
            self.catching_up = False
        self._queue[:0] = self.sources.present_readings()
        self._drain()
        self._tell_settled()
        self._publish()

    def _work_through(self, readings: Iterable[Reading]) -> None:
        for reading in readings:
            if self._stopped:
                return
            self._settled.extend(self.engine.feed(reading))

    # The present

    @callback
    def _async_state_changed(self, event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        at_s = time.time() if state is None else state.last_updated_timestamp
        self._take(self.sources.reading(event.data["entity_id"], state, at_s))

    @callback
    def _async_state_reported(self, event: Event[EventStateReportedData]) -> None:
        self._take(
            self.sources.reading(
                event.data["entity_id"],
                event.data["new_state"],
                event.data["last_reported"].timestamp(),
            )
        )

    @callback
    def _take(self, reading: Reading) -> None:
        self._queue.append(reading)
        if self.catching_up:
            return
        self._drain()
        self._tell_settled()
        self._publish_soon()

    def _drain(self) -> None:
        queue, self._queue = self._queue, []
        self._work_through(queue)
        self._dirty = self._dirty or bool(queue)

    async def _async_tick(self, _: object) -> None:
        """Let time pass; save and show what has become known by it."""
        if self.catching_up:
            return
        now_s = time.time()
        self._settled.extend(self.engine.advance(now_s))
        ended_meal = self._tell_settled()
        self._publish()
        cooking = self.data is not None and self.data.current_meal is not None
        limit_s = SAVE_WHILE_COOKING_S if cooking else SAVE_OTHERWISE_S
        age_s = now_s - self._saved_s
        if ended_meal or (self._dirty and not 0 <= age_s < limit_s):
            await self._async_save()
            self.async_update_listeners()

    def _tell_settled(self) -> bool:
        """Count and pass on what was settled; return whether a meal was among it."""
        if not self._settled:
            return False
        events, self._settled = self._settled, []
        self._counting.absorb(self.engine.totals, self.appliance_names)
        self._dirty = True
        settled_s = self.engine.settled_until_s
        is_news = settled_s is not None and time.time() - settled_s < LIVE_EVENT_S
        for listener in list(self._event_listeners):
            listener(events, is_news)
        return any(isinstance(event, MealSettled) for event in events)

    @callback
    def _publish_soon(self) -> None:
        if self._update_later is not None:
            return
        wait_s = self._published_s + SHORTEST_UPDATE_S - time.monotonic()
        if wait_s <= 0:
            self._publish()
        else:
            self._update_later = async_call_later(
                self.hass, wait_s, self._async_publish_later
            )

    @callback
    def _async_publish_later(self, _: object) -> None:
        self._update_later = None
        self._publish()

    @callback
    def _publish(self) -> None:
        if self._update_later is not None:
            self._update_later()
            self._update_later = None
        self._published_s = time.monotonic()
        self.async_set_updated_data(self.engine.live())
