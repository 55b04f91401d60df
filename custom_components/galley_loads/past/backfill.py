"""The recorder's past, run through the same engine as the present.

When a boat was just set up, the states that the recorder kept are run through a new
engine, a few hours at a time, read in the recorder's executor and worked through in
another. The present goes on meanwhile with a *provisional* engine that knows nothing of
the past: it shows what runs now, but counts nothing and files no meal. When the past has
caught up with the present, its engine takes over. So it has seen every reading once, in
order, as if it had been there all along.

The same happens when the boat's sensors, appliances or circuits changed since the past
was read (appliances are added one by one), and when somebody asks for it (the `backfill`
action). Then the live engine counts and files as ever, until the one that comes out of
the past takes its place.

* Counters count from the moment the boat was set up, never what lies before; statistics
  of the past are imported behind them (`past_statistics`).
* Meals found in the past never replace what live operation found or the crew touched
  (`core/meal_book/filing`).
* Every minute of work is saved, so that a restart goes on where it was.
"""

import asyncio
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
import logging
import time
from typing import Any, Final

from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.helpers.recorder import get_instance

from ..boat.boat_entry import mapping_from_entry
from ..boat.recorded import Recorded
from ..const import (
    CONF_APPLIANCES,
    CONF_BANK,
    CONF_CIRCUITS,
    CONF_INVERTER,
    CONF_SENSORS,
)
from ..coordinator import GalleyCoordinator
from ..core.engine import Engine
from ..core.ledger.totals import Totals
from ..core.metering.reading import Reading
from ..core.replay.past_replay import PastReplay
from ..meals.dish_learning import DishLearning
from ..state.counters import values_by_key
from ..state.meal_store import MealStore
from .history_store import HistoryStore, StoredHistory, StoredRun
from .past_statistics import async_import_past

_LOGGER = logging.getLogger(__name__)

WINDOW_S: Final = 4 * 3600.0
"""How much of the past is read at a time: asking costs as much as an hour's rows."""

SAVE_EVERY_S: Final = 60.0

_CAUGHT_UP_S: Final = 120.0
"""So close to the present the past is joined to it."""

_FEW_READINGS: Final = 50
"""As many can be worked through in the event loop without anybody noticing."""


_PARTS_THAT_MATTER: Final = (
    CONF_SENSORS,
    CONF_BANK,
    CONF_INVERTER,
    CONF_APPLIANCES,
    CONF_CIRCUITS,
)


class BackfillState(StrEnum):
    """What the backfill does."""

    IDLE = "idle"
    RUNNING = "running"
    STOPPED = "stopped"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class BackfillProgress:
    """How far the backfill is; `share` is 0 to 1, None before it ever ran."""

    state: BackfillState = BackfillState.IDLE
    share: float | None = None
    from_s: float | None = None
    until_s: float | None = None
    meals: int = 0


class Backfill:
    """Works through the past of one boat."""

    def __init__(
        self,
        hass: HomeAssistant,
        coordinator: GalleyCoordinator,
        meals: MealStore,
        dishes: DishLearning,
    ) -> None:
        """Start with nothing asked for."""
        self.progress = BackfillProgress()
        self._hass = hass
        self._coordinator = coordinator
        self._meals = meals
        self._dishes = dishes
        self._entry = coordinator.config_entry
        self._recorded = Recorded(hass, coordinator.sources)
        self._store = HistoryStore(hass, self._entry.entry_id)
        self._stored = StoredHistory(
            first_start_s=time.time(),
            live_from_s={},
            counts_from_s={},
            boat=None,
            run=None,
        )
        self._started_s = time.time()
        self._task: asyncio.Task[None] | None = None
        self._stopping = asyncio.Event()
        self._asking = asyncio.Lock()

    @property
    def running(self) -> bool:
        """Whether the past is being worked through."""
        return self._task is not None and not self._task.done()

    async def async_prepare(self) -> None:
        """Note since when counters are there; before their sensors are made."""
        stored = await self._store.async_load()
        if stored is not None:
            self._stored = stored
        for key in self._counter_keys():
            self._stored["live_from_s"].setdefault(key, self._started_s)
        await self._store.async_save(self._stored)

    async def async_start(self) -> None:
        """Begin by itself if the past was never read, or as another boat."""
        self._entry.async_on_unload(
            self._hass.bus.async_listen_once(
                EVENT_HOMEASSISTANT_STOP, self._async_home_assistant_stops
            )
        )
        if not self._coordinator.provisional and (
            self._stored["boat"] == self._boat_that_matters()
        ):
            return
        oldest_s = await self._recorded.async_oldest()
        if oldest_s is None:
            await self._async_do_without()
        else:
            self._begin(oldest_s)

    async def async_request(self) -> bool:
        """Begin, or go on with what was stopped; return False if it is running."""
        async with self._asking:
            if self.running:
                return False
            oldest_s = await self._recorded.async_oldest()
            self._begin(time.time() if oldest_s is None else oldest_s)
            return True

    async def async_stop(self) -> None:
        """Interrupt; what was done is kept, and the next request goes on from there."""
        if self._task is None:
            return
        self._stopping.set()
        await self._task

    async def _async_home_assistant_stops(self, _: Event) -> None:
        await self.async_stop()

    def _begin(self, oldest_s: float) -> None:
        self._stopping.clear()
        self._task = self._entry.async_create_background_task(
            self._hass,
            self._async_run(oldest_s),
            f"{self._entry.title} reads the past",
        )

    async def _async_run(self, oldest_s: float) -> None:
        name = self._entry.title
        try:
            past = await self._hass.async_add_executor_job(self._resume, oldest_s)
            # A counter that is new counts since this past was begun.
            await self._async_note_counters(past.counted_until_s)
            _LOGGER.info(
                "%s: reading the recorder's past, %.1f days of it",
                name,
                (time.time() - past.read_until_s) / 86400,
            )
            await self._async_read(past)
            if self._is_stopping() or not await self._async_join(past):
                await self._async_save_run(past)
                self._show(past, BackfillState.STOPPED)
                _LOGGER.info("%s: reading of the past interrupted", name)
                return
        except Exception:
            _LOGGER.exception(
                "%s: the recorder's past cannot be read; the present goes on without it",
                name,
            )
            self._show(None, BackfillState.FAILED)
            await self._async_do_without()
        else:
            self._show(past, BackfillState.DONE)
            _LOGGER.info(
                "%s: the past is read, %d meals found in it", name, len(past.meals)
            )
        finally:
            self._task = None

    def _is_stopping(self) -> bool:
        return self._stopping.is_set()

    def _resume(self, oldest_s: float) -> PastReplay:
        """Return the past as far as it was worked through, of this same boat."""
        run = self._stored["run"]
        boat = self._coordinator.boat
        if run is not None and run["boat"] == self._boat_that_matters():
            try:
                return PastReplay.from_state(boat, run["past"])
            except KeyError, TypeError, ValueError:
                _LOGGER.warning(
                    "%s: the interrupted reading of the past begins anew", boat.name
                )
        counts_from_s = self._stored["counts_from_s"].values()
        return PastReplay(boat, oldest_s, self._counted_until_s(), counts_from_s)

    def _counted_until_s(self) -> float:
        """Return up to when the counters have counted, or will not count."""
        if self._coordinator.provisional:
            return self._stored["first_start_s"]
        settled_s = self._coordinator.known.settled_until_s
        return self._started_s if settled_s is None else settled_s

    def _counter_keys(self) -> Iterable[str]:
        return values_by_key(Totals(), self._coordinator.appliance_names)

    def _boat_that_matters(self) -> dict[str, Any]:
        """Return the part of the boat's description that the past depends on."""
        mapping = mapping_from_entry(self._entry)
        return {key: mapping[key] for key in _PARTS_THAT_MATTER if key in mapping}

    # The long way

    async def _async_read(self, past: PastReplay) -> None:
        """Work through window after window until close to the present."""
        saved_s = time.monotonic()
        while not self._is_stopping():
            now_s = time.time()
            if now_s - past.read_until_s < _CAUGHT_UP_S:
                return
            self._show(past, BackfillState.RUNNING)
            to_s = min(past.read_until_s + WINDOW_S, now_s - _CAUGHT_UP_S / 2)
            readings = await self._recorded.async_read(past.read_until_s, to_s)
            await self._hass.async_add_executor_job(
                past.work_through, readings.rows, to_s, self._is_stopping
            )
            if time.monotonic() - saved_s > SAVE_EVERY_S:
                await self._async_save_run(past)
                saved_s = time.monotonic()

    async def _async_save_run(self, past: PastReplay) -> None:
        state = await self._hass.async_add_executor_job(past.snapshot)
        self._stored["run"] = StoredRun(boat=self._boat_that_matters(), past=state)
        await self._store.async_save(self._stored)

    # The join

    async def _async_join(self, past: PastReplay) -> bool:
        """Bring the past up to the present and let its engine take over.

        Return False if it was interrupted while the recorder had not written yet.

        Readings are collected as they come from here on, and the recorder is asked to
        write what it has; so nothing falls between what it kept and what is collected.
        Whatever is in both is harmless: the engine knows a doubled reading.
        """
        coordinator = self._coordinator
        await coordinator.async_wait_caught_up()
        collected: list[Reading] = []
        stop_collecting = coordinator.async_collect(collected)
        try:
            if not await self._async_recorder_wrote():
                return False
            to_s = time.time()
            readings = await self._recorded.async_read(past.read_until_s, to_s)
            await self._hass.async_add_executor_job(
                past.work_through, readings.rows, to_s
            )
            await self._meals.async_file_history(past.meals, _span(past))
            while len(collected) > _FEW_READINGS:
                few, collected[:] = list(collected), []
                await self._hass.async_add_executor_job(past.work_through, few)
            await self._async_take_over(past, collected)
        finally:
            stop_collecting()
        await self._async_finish(past)
        return True

    async def _async_recorder_wrote(self) -> bool:
        """Wait until the recorder has written what it has; False if interrupted before.

        It writes nothing before Home Assistant has started, and that waits for a boat
        that is loaded anew meanwhile: whoever interrupts must not have to wait for it.
        """
        committed = get_instance(self._hass).async_get_commit_future()
        if committed is None:
            return True
        stopping = self._hass.async_create_background_task(
            self._stopping.wait(), f"{self._entry.title} may be interrupted"
        )
        try:
            await asyncio.wait(
                (committed, stopping), return_when=asyncio.FIRST_COMPLETED
            )
        finally:
            stopping.cancel()
        return committed.done()

    async def _async_take_over(
        self, past: PastReplay, collected: list[Reading]
    ) -> None:
        """Give the past's engine the last readings and put it in the live one's place."""
        coordinator = self._coordinator

        def bring_up_to_now() -> tuple[Engine, Totals]:
            past.work_through([*collected, *coordinator.sources.present_readings()])
            return past.engine, past.mark_at(self._counted_until_s()).totals

        await coordinator.async_take_over(bring_up_to_now)

    async def _async_finish(self, past: PastReplay) -> None:
        """Write down what the past has brought."""
        await self._dishes.async_teach_all()
        await self._meals.async_file_history(past.meals, _span(past))
        await async_import_past(
            self._hass,
            self._entry,
            past.hours,
            self._stored["live_from_s"],
            self._stored["counts_from_s"],
        )
        self._stored["boat"] = self._boat_that_matters()
        self._stored["run"] = None
        await self._store.async_save(self._stored)

    async def _async_do_without(self) -> None:
        """Let the present go on without a past."""
        self._stored["boat"] = self._boat_that_matters()
        self._stored["run"] = None
        await self._async_note_counters(self._started_s)
        await self._coordinator.async_end_provisional()

    async def _async_note_counters(self, from_s: float) -> None:
        """Write down from when on counters count that did not count before."""
        for key in self._counter_keys():
            self._stored["counts_from_s"].setdefault(key, from_s)
        await self._store.async_save(self._stored)

    @callback
    def _show(self, past: PastReplay | None, state: BackfillState) -> None:
        if past is None:
            self.progress = BackfillProgress(state)
        else:
            done_s = past.read_until_s - past.from_s
            whole_s = max(done_s, time.time() - past.from_s)
            share = (
                1.0 if state is BackfillState.DONE or whole_s <= 0 else done_s / whole_s
            )
            self.progress = BackfillProgress(
                state, share, past.from_s, past.read_until_s, len(past.meals)
            )
        self._coordinator.async_update_listeners()


def _span(past: PastReplay) -> tuple[float, float]:
    """Return the span that the past covers."""
    return past.from_s, past.read_until_s
