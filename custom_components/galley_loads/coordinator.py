"""The runtime owner of one boat: state changes in, engine, a view for the entities out.

Readings wait in a queue until the next *turn*, a second or two later at most. A turn works
in the executor, so that however hard a moment is to explain, the event loop is not held up.
Only one turn at a time touches the engine, and nothing is said to anybody before it is
over (`_turn`). Others read what the engine knew at the end of the last turn (`known`).
"""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable, Iterator
from contextlib import asynccontextmanager, contextmanager
from datetime import timedelta
from itertools import batched
import logging
import time
from typing import Final, override

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import (
    CALLBACK_TYPE,
    Event,
    EventStateChangedData,
    EventStateReportedData,
    HassJob,
    HomeAssistant,
    callback,
)
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import (
    async_call_later,
    async_track_state_change_event,
    async_track_state_report_event,
    async_track_time_interval,
)
from homeassistant.helpers.update_coordinator import DataUpdateCoordinator
from sqlalchemy.exc import SQLAlchemyError

from .boat.boat_entry import mapping_from_entry, parts_of
from .boat.boat_sensors import Sources
from .boat.recorded import async_readings
from .const import SUBENTRY_APPLIANCE
from .core.boat.boat import Boat
from .core.engine import READINGS_AT_ONCE, Engine
from .core.engine_view import EngineView
from .core.events import Event as EngineEvent
from .core.ledger.totals import Totals
from .core.live.live_view import LiveView
from .core.metering.reading import Reading
from .state.engine_keeper import EngineKeeper
from .state.listeners import Listeners

_LOGGER = logging.getLogger(__name__)

TICK: Final = timedelta(seconds=10)
"""How often time is made to pass without a reading."""

SHORTEST_UPDATE_S: Final = 2.0
"""Entities are told of readings at most this often."""

LONGEST_GAP_S: Final = 48 * 3600.0
"""Of a longer absence only the end is read; the rest counts as not measured."""

GAP_WINDOW_S: Final = 6 * 3600.0
"""So much of an absence is held in memory at a time."""

LIVE_EVENT_S: Final = 3 * 3600.0
"""What was settled later than this after it happened is history, not news."""

type EventListener = Callable[[list[EngineEvent], bool], None]
"""Called with what was settled, and whether it is news (False: found in the past)."""


class GalleyCoordinator(DataUpdateCoordinator[LiveView | None]):
    """Owns the engine of one boat.

    `data` is the present as the engine sees it, None until it is known; `known` is all that
    it knew at the end of the last turn. `generation` rises when another engine takes over.
    While the engine is `provisional` (the past that belongs before it is still being read)
    it shows the present, but nothing of it is counted, reported or saved.
    """

    config_entry: ConfigEntry

    def __init__(self, hass: HomeAssistant, entry: ConfigEntry, boat: Boat) -> None:
        """Start with the boat that the entry describes, without a past."""
        super().__init__(
            hass, _LOGGER, config_entry=entry, name=entry.title, update_interval=None
        )
        self.boat = boat
        self.appliance_names = {
            part.part_id: part.name for part in parts_of(entry, SUBENTRY_APPLIANCE)
        }
        self.sources = Sources(hass, entry)
        self.generation = 0
        self._engine = Engine(boat)
        self.known = self._engine.view()
        self._caught_up = asyncio.Event()
        self._caught_up.set()
        self.provisional = False
        self._keeper = EngineKeeper(
            hass, entry.entry_id, mapping_from_entry(entry), self.appliance_names
        )
        self._collectors: list[list[Reading]] = []
        self._settlings = Listeners[list[EngineEvent], bool]()
        self._queue: list[Reading] = []
        self._settled: list[EngineEvent] = []
        self._published_s = 0.0
        self._stopped = False
        self._turning = asyncio.Lock()
        self._reports: list[tuple[list[EngineEvent], bool]] = []
        self._update_due = False
        self._publishing = False
        self._turn_ahead = False
        self._turn_later: CALLBACK_TYPE | None = None

    # Life

    async def async_start(self) -> None:
        """Restore what was saved, listen, and catch up with the time between."""
        await self._async_restore()
        entry = self.config_entry
        sources = self.sources
        self._caught_up.clear()
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
        await self._async_save_all()
        self._stopped = True
        if self._turn_later is not None:
            self._turn_later()
            self._turn_later = None

    async def _async_home_assistant_stops(self, _: Event) -> None:
        await self._async_save_all()

    @property
    def counters(self) -> dict[str, float]:
        """The energies to show, by key: as they were written to disk."""
        return self._keeper.shown

    @callback
    def async_subscribe(self, listener: EventListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that becomes settled, until unsubscribed."""
        return self._settlings.async_add(listener)

    @callback
    def async_before_saving(
        self, write: Callable[[], Awaitable[None]]
    ) -> CALLBACK_TYPE:
        """Have `write` done before each saving of the engine's state."""
        return self._keeper.async_before_saving(write)

    # Turns

    @asynccontextmanager
    async def _turn(self) -> AsyncIterator[None]:
        """Have the engine to oneself; what is due goes out to others afterwards."""
        if self._publishing:
            # Whoever is told may begin to work at once; the others are told first.
            await asyncio.sleep(0)
        try:
            async with self._turning:
                yield
        finally:
            reports, self._reports = self._reports, []
            with self._to_others():
                for events, is_news in reports:
                    self._settlings.async_notify(events, is_news)
            if self._update_due:
                self.async_update_listeners()

    @contextmanager
    def _to_others(self) -> Iterator[None]:
        """Let no turn begin meanwhile."""
        before, self._publishing = self._publishing, True
        try:
            yield
        finally:
            self._publishing = before

    @callback
    @override
    def async_update_listeners(self) -> None:
        """Update everybody: at once between two turns, else when the turn is over."""
        self._update_due = self._turning.locked()
        if not self._update_due:
            with self._to_others():
                super().async_update_listeners()

    async def async_with_engine[T](self, work: Callable[[Engine], T]) -> T:
        """Have something done with the engine in the executor, between two turns.

        It waits while the past is being caught up with: the engine is at work then.
        """
        async with self._turn():
            return await self.hass.async_add_executor_job(work, self._engine)

    # The saved state

    async def _async_restore(self) -> None:
        restored = await self._keeper.async_load(self.boat)
        if restored is None:
            self.provisional = True
            return
        self._engine, events = restored
        self.known = await self.hass.async_add_executor_job(self._engine.view)
        if events:
            # Reported as news before the restart, or cut short by a change of the boat.
            self._settlings.async_notify(events, False)

    async def _async_save_all(self) -> None:
        """Write everything.

        While the past is being worked through there is nothing new to save: it would be
        worked through again.
        """
        if self.catching_up or self.provisional or self._stopped:
            return
        await self._async_turn()
        async with self._turn():
            await self._keeper.async_save(self._engine)

    @callback
    def async_lift_counter(self, key: str, value: float) -> None:
        """Never show less than was shown before the restart."""
        self._keeper.lift(key, value)

    @callback
    def async_entity_renamed(self, old: str, new: str) -> None:
        """Save under the new id what was read from the old; the entry changes next."""
        self._keeper.entity_renamed(old, new)

    # The past

    @property
    def catching_up(self) -> bool:
        """Whether the time since the last save is still being worked through."""
        return not self._caught_up.is_set()

    async def async_wait_caught_up(self) -> None:
        """Wait until the engine has arrived in the present."""
        await self._caught_up.wait()

    async def _async_catch_up(self) -> None:
        """Work through what the recorder kept since the state was saved."""
        try:
            async with self._turn():
                await self._async_work_through_gap()
        except (HomeAssistantError, SQLAlchemyError) as err:
            _LOGGER.warning(
                "%s: the time since the last save cannot be read from the recorder (%s)"
                " and counts as not measured",
                self.name,
                err,
            )
        finally:
            self._caught_up.set()
        self._queue[:0] = self.sources.present_readings()
        await self._async_turn()

    async def _async_work_through_gap(self) -> None:
        since_s = self._engine.latest_s
        if since_s is None:
            return
        now_s = time.time()
        from_s = max(since_s, now_s - LONGEST_GAP_S)
        while from_s < now_s and not self._stopped:
            to_s = min(from_s + GAP_WINDOW_S, now_s)
            readings = await async_readings(self.hass, self.sources, from_s, to_s)
            self._keeper.note(readings)
            await self.hass.async_add_executor_job(self._work_through, readings)
            from_s = to_s

    def _work_through(self, readings: Iterable[Reading]) -> None:
        for some in batched(readings, READINGS_AT_ONCE, strict=False):
            if self._stopped:
                return
            self._engine.feed_all(some, self._settled.extend)

    @callback
    def async_collect(self, collected: list[Reading]) -> CALLBACK_TYPE:
        """Add every live reading to a list, until told to stop."""
        self._collectors.append(collected)

        @callback
        def stop() -> None:
            self._collectors = [c for c in self._collectors if c is not collected]

        return stop

    async def async_take_over(
        self, bring_up_to_now: Callable[[], tuple[Engine, Totals]]
    ) -> None:
        """Go on with an engine that has worked through the past.

        `bring_up_to_now` gives it the last readings. It is called while no reading is
        worked through here, and returns the engine and its totals at the moment up to
        which energy was counted already, or is not to be counted.
        """
        async with self._turn():
            self._note_settled()
            self._engine, counted = bring_up_to_now()
            self.generation += 1
            self._queue.clear()
            self._keeper.counting.start_from(counted, self.appliance_names)
            self._keeper.count(self._engine)
            self.known = await self.hass.async_add_executor_job(self._engine.view)
        await self.async_end_provisional()

    async def async_end_provisional(self) -> None:
        """Count, tell and save from now on."""
        self.provisional = False
        await self._async_save_all()
        self.async_update_listeners()

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
        for collected in self._collectors:
            collected.append(reading)
        self._turn_soon()

    @callback
    def _turn_soon(self) -> None:
        """Have the queue worked through, but not more often than entities are told."""
        if self._turn_ahead or self.catching_up or self._stopped:
            return
        self._turn_ahead = True
        wait_s = self._published_s + SHORTEST_UPDATE_S - time.monotonic()
        if wait_s <= 0:
            self._start_turn()
        else:
            self._turn_later = async_call_later(
                self.hass,
                wait_s,
                HassJob(self._start_turn, f"{self.name} turn", cancel_on_shutdown=True),
            )

    @callback
    def _start_turn(self, _: object = None) -> None:
        self._turn_later = None
        self.config_entry.async_create_task(
            self.hass, self._async_turn(), f"{self.name} turn"
        )

    async def _async_turn(self, *, pass_time: bool = False) -> None:
        """Work through what came in, and show it; make time pass up to now where wanted."""
        async with self._turn():
            self._turn_ahead = False
            if self._stopped:
                return
            queue, self._queue = self._queue, []
            # Not before the turn has come: the clock would seem to have been set back.
            now_s = time.time() if pass_time else None
            if not self.provisional:
                self._keeper.note(queue)
            self.known = await self.hass.async_add_executor_job(
                self._work_and_look, queue, now_s
            )
            self._note_settled()
            self._published_s = time.monotonic()
            self.async_set_updated_data(self.known.live)
        if self._queue:
            self._turn_soon()

    def _work_and_look(
        self, readings: Iterable[Reading], now_s: float | None
    ) -> EngineView:
        self._work_through(readings)
        if now_s is not None:
            self._settled.extend(self._engine.advance(now_s))
        return self._engine.view()

    async def _async_tick(self, _: object) -> None:
        """Let time pass; write and show what has become known by it."""
        if self.catching_up:
            return
        await self._async_turn(pass_time=True)
        if self.provisional or self._stopped:
            return
        cooking = self.data is not None and self.data.current_meal is not None
        async with self._turn():
            shown = await self._keeper.async_keep(self._engine, cooking)
        if shown:
            self.async_update_listeners()

    def _note_settled(self) -> None:
        """Count what was settled; it is passed on when the turn is over."""
        if not self._settled:
            return
        events, self._settled = self._settled, []
        if self.provisional:
            return
        self._keeper.count(self._engine)
        settled_s = self._engine.settled_until_s
        is_news = settled_s is not None and time.time() - settled_s < LIVE_EVENT_S
        self._reports.append((events, is_news))
