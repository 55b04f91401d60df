"""Keeping the engine's state and the counters through restarts and power cuts.

The whole state is written every few minutes; in between, while somebody cooks, only the
readings since then (the *journal*), which is far less for a small board's card. Feeding
them to the restored state gives the engine as it was. Counters are shown as they were
written, never ahead of it: so none can be lower after a power cut than before it.
"""

from collections.abc import Awaitable, Callable, Iterable
import time
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback

from ..core.boat.boat import Boat
from ..core.engine import Engine
from ..core.events import Event
from ..core.metering.reading import Reading
from .counters import BACKGROUND, LOAD, UNMEASURED_S, Counters
from .engine_state import renamed, take_up
from .engine_store import EngineStore, JournalStore, StoredEngine, StoredJournal

JOURNAL_WHILE_COOKING_S: Final = 20.0
SHOW_SETTLED_S: Final = 60.0
JOURNAL_OTHERWISE_S: Final = 300.0
STATE_WHILE_BUSY_S: Final = 300.0
STATE_OTHERWISE_S: Final = 900.0

LONGEST_JOURNAL: Final = 5000
"""With more readings than this, writing the state is the lesser work."""

_ALWAYS_RISING: Final = {BACKGROUND, LOAD, UNMEASURED_S}
"""Counters that rise whether anybody cooks or not; they can wait."""


class EngineKeeper:
    """Stores what one boat's engine knows.

    `counting` are the counters as they stand, `shown` as they were last written.
    """

    def __init__(
        self,
        hass: HomeAssistant,
        entry_id: str,
        mapping: dict[str, Any],
        names: dict[str, str],
    ) -> None:
        """Keep the state of a boat, described by `mapping`, with appliances `names`."""
        self.counting = Counters()
        self.shown: dict[str, float] = {}
        self._before_saving: list[Callable[[], Awaitable[None]]] = []
        self._hass = hass
        self._mapping = mapping
        self._names = names
        self._renamed: dict[str, str] = {}
        self._store = EngineStore(hass, entry_id)
        self._journal_store = JournalStore(hass, entry_id)
        self._journal: list[Reading] = []
        self._unwritten = False
        self._written_s = 0.0
        self._state_s = 0.0

    async def async_load(self, boat: Boat) -> tuple[Engine, list[Event]] | None:
        """Return the engine that goes on from what was stored, None for a new boat.

        With it comes what was settled on the way.
        """
        if (stored := await self._store.async_load()) is None:
            return None
        journal = await self._journal_store.async_load()
        taken = await self._hass.async_add_executor_job(
            take_up, boat, self._names, stored, journal
        )
        self.counting = taken.counters
        self.shown = self.counting.as_mapping()
        return taken.engine, taken.events

    @callback
    def async_before_saving(
        self, write: Callable[[], Awaitable[None]]
    ) -> CALLBACK_TYPE:
        """Have `write` done before each writing of the state, until unsubscribed.

        What was reported must be on disk before the engine forgets that it reported it.
        """
        self._before_saving.append(write)

        @callback
        def unsubscribe() -> None:
            self._before_saving.remove(write)

        return unsubscribe

    def note(self, readings: Iterable[Reading]) -> None:
        """Remember readings that the engine is given."""
        before = len(self._journal)
        self._journal.extend(readings)
        self._unwritten = self._unwritten or len(self._journal) > before

    def count(self, engine: Engine) -> None:
        """Add what the engine settled since the last time."""
        self.counting.absorb(engine.totals, self._names)

    def start_from(self, engine: Engine) -> None:
        """Take what the engine has settled so far as counted already."""
        self.counting.start_from(engine.totals, self._names)

    def lift(self, key: str, value: float) -> None:
        """Never show less than was shown before."""
        self.counting.raise_to(key, value)
        self.shown[key] = max(value, self.shown.get(key, 0.0))

    def entity_renamed(self, old: str, new: str) -> None:
        """Store under a new id what was read from an old one."""
        self._renamed[old] = new

    async def async_keep(self, engine: Engine, cooking: bool) -> bool:
        """Write what is due; return whether counters to show have changed.

        The engine must not be worked with meanwhile.
        """
        now_s = time.time()
        age_s = _age(now_s, self._written_s)
        settled = self._has_news()
        due = (
            (cooking and age_s >= JOURNAL_WHILE_COOKING_S)
            or (settled and age_s >= SHOW_SETTLED_S)
            or age_s >= JOURNAL_OTHERWISE_S
        )
        if not due or not (self._unwritten or settled):
            return False
        limit_s = STATE_WHILE_BUSY_S if cooking or settled else STATE_OTHERWISE_S
        if (
            _age(now_s, self._state_s) >= limit_s
            or len(self._journal) > LONGEST_JOURNAL
        ):
            await self.async_save(engine)
        else:
            await self._async_write_journal()
        return True

    async def async_save(self, engine: Engine) -> None:
        """Write the whole state. The engine must not be worked with meanwhile."""
        for write in tuple(self._before_saving):
            await write()
        state = await self._hass.async_add_executor_job(engine.snapshot)
        counters = self.counting.as_mapping()
        await self._store.async_save(
            StoredEngine(
                boat=renamed(self._mapping, self._renamed),
                names=self._names,
                engine=renamed(state, self._renamed),
                counters=counters,
            )
        )
        self._state_s = time.time()
        self._journal.clear()
        await self._async_write_journal()

    async def _async_write_journal(self) -> None:
        counters = self.counting.as_mapping()
        await self._journal_store.async_save(
            StoredJournal(
                readings=[[r.entity_id, r.state, r.at_s] for r in self._journal],
                counters=counters,
            )
        )
        self._written_s = time.time()
        self._unwritten = False
        self.shown = counters

    def _has_news(self) -> bool:
        """Whether a counter that somebody waits for has risen."""
        return any(
            value > self.shown.get(key, 0.0)
            for key, value in self.counting.as_mapping().items()
            if key not in _ALWAYS_RISING
        )


def _age(now_s: float, then_s: float) -> float:
    """Return how old something is; after the clock was set back, as old as can be."""
    return now_s - then_s if now_s >= then_s else float("inf")
