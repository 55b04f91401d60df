"""The meal book on disk: a file a month, written as a whole when something in it changes.

A power cut leaves the old file or the new one. Only the newest pages stay in memory;
older ones are read when somebody asks for them, one at a time.
"""

import asyncio
from collections import OrderedDict
from collections.abc import AsyncIterator, Callable, Iterable
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback

from ..core.meals.book_page import Page, page_from_mapping, page_key, page_key_of_id
from ..core.meals.filing_rules import BookChange, Span, file_history, file_live
from ..core.meals.meal_builder import Meal
from ..core.meals.meal_edits import join, split
from ..core.meals.meal_query import MealFilter, select
from ..core.meals.meal_record import MealRecord
from .boat_store import BoatStore
from .listeners import Listeners

PAGES_IN_MEMORY: Final = 3

_LONGEST_MEAL_S: Final = 2 * 86400.0
"""How far around a meal others are looked for that overlap it."""


class MealNotFoundError(LookupError):
    """There is no meal of that id."""


class _PageFile(BoatStore[dict[str, Any]]):
    """One file of the book: a month, or the list of months."""

    file = "meals"


class MealStore:
    """The meal book of one boat."""

    def __init__(self, hass: HomeAssistant, entry_id: str) -> None:
        """Name the files after the config entry."""
        self._hass = hass
        self._entry_id = entry_id
        self._index = _PageFile(hass, entry_id)
        self._keys: list[str] = []
        self._pages: OrderedDict[str, Page] = OrderedDict()
        self._newest: list[MealRecord] = []
        self._lock = asyncio.Lock()
        self._newer = Listeners[[]]()
        self._changes = Listeners[BookChange]()

    # Reading

    async def async_load(self) -> None:
        """Read the list of pages and the newest of them."""
        stored = await self._index.async_load()
        self._keys = sorted(stored["pages"]) if stored else []
        await self._async_note_newest()

    @property
    def newest(self) -> list[MealRecord]:
        """The meals of the last two pages, in order of time."""
        return self._newest

    @callback
    def async_listen(self, listener: CALLBACK_TYPE) -> CALLBACK_TYPE:
        """Call `listener` whenever the book has changed, until unsubscribed."""
        return self._newer.async_add(listener)

    @callback
    def async_listen_changes(
        self, listener: Callable[[BookChange], None]
    ) -> CALLBACK_TYPE:
        """Call `listener` with what went out of the book and what came in."""
        return self._changes.async_add(listener)

    async def async_meals(self, wanted: MealFilter) -> AsyncIterator[MealRecord]:
        """Yield the meals that are meant in order of time, reading page by page."""
        first = "" if wanted.from_s is None else page_key(wanted.from_s)
        last = "9" if wanted.to_s is None else page_key(wanted.to_s)
        for key in list(self._keys):
            if first <= key <= last:
                for record in select(list((await self._page(key)).records), wanted):
                    yield record

    async def async_get(self, meal_id: str) -> MealRecord:
        """Return one meal.

        Raises:
            MealNotFoundError: there is none of that id.
        """
        key = page_key_of_id(meal_id)
        record = (await self._page(key)).get(meal_id) if key in self._keys else None
        if record is None:
            raise MealNotFoundError(meal_id)
        return record

    # Filing

    async def async_file_live(self, meal: Meal) -> None:
        """Write a meal that live operation found."""
        async with self._lock:
            known, removed = await self._async_around(meal.start_s, meal.end_s)
            await self._async_apply(file_live(meal, known, removed))

    async def async_file_history(self, meals: list[Meal], read: Span) -> int:
        """Write the meals found in a span of the recorder's past; return how many came."""
        async with self._lock:
            known, removed = await self._async_around(*read)
            change = file_history(meals, known, removed, read)
            await self._async_apply(change)
        return len(change.add)

    # Editing

    async def async_label(
        self, meal_id: str, label: str | None, dish: str | None
    ) -> MealRecord:
        """Give a meal another label or dish; None leaves it, "" clears it.

        Raises:
            MealNotFoundError: there is none of that id.
        """
        async with self._lock:
            record = await self.async_get(meal_id)
            changed = record.labelled(label, dish)
            await self._async_apply(BookChange((record,), (changed,)))
        return changed

    async def async_split(
        self, meal_id: str, at_s: float
    ) -> tuple[MealRecord, MealRecord]:
        """Cut a meal in two.

        Raises:
            MealNotFoundError: there is none of that id.
            MealEditError: the cut leaves nothing on one side.
        """
        async with self._lock:
            record = await self.async_get(meal_id)
            parts = split(record, at_s)
            await self._async_apply(BookChange((record,), parts))
        return parts

    async def async_join(self, meal_ids: Iterable[str]) -> MealRecord:
        """Make one meal of several.

        Raises:
            MealNotFoundError: there is none of one of these ids.
            MealEditError: fewer than two, or another meal lies between.
        """
        async with self._lock:
            records = [await self.async_get(meal_id) for meal_id in meal_ids]
            known, _ = await self._async_around(
                min((r.start_s for r in records), default=0.0),
                max((r.end_s for r in records), default=0.0),
            )
            joined = join(records, known)
            await self._async_apply(BookChange(tuple(records), (joined,)))
        return joined

    async def async_delete(self, meal_id: str) -> MealRecord:
        """Take a meal out for good: it is not found again.

        Raises:
            MealNotFoundError: there is none of that id.
        """
        async with self._lock:
            record = await self.async_get(meal_id)
            await self._async_apply(
                BookChange(drop=(record,)), removed=(record.start_s, record.end_s)
            )
        return record

    async def async_remove(self) -> None:
        """Remove all files, with the boat."""
        stored = await self._index.async_load()
        for key in stored["pages"] if stored else ():
            await self._file(key).async_remove()
        await self._index.async_remove()

    # Pages

    def _file(self, key: str) -> _PageFile:
        return _PageFile(self._hass, self._entry_id, f"meals.{key}")

    async def _page(self, key: str) -> Page:
        if (page := self._pages.get(key)) is not None:
            self._pages.move_to_end(key)
            return page
        stored = await self._file(key).async_load()
        page = Page() if stored is None else page_from_mapping(stored)
        # Another reader may have been faster; all must see the same page.
        page = self._pages.setdefault(key, page)
        while len(self._pages) > PAGES_IN_MEMORY:
            self._pages.popitem(last=False)
        return page

    async def _async_around(
        self, start_s: float, end_s: float
    ) -> tuple[list[MealRecord], list[Span]]:
        """Return the meals and the deleted spans that may overlap a span."""
        records: list[MealRecord] = []
        removed: list[Span] = []
        first, last = page_key(start_s - _LONGEST_MEAL_S), page_key(end_s)
        for key in list(self._keys):
            if first <= key <= last:
                page = await self._page(key)
                records.extend(page.records)
                removed.extend(page.removed)
        return records, removed

    async def _async_apply(
        self, change: BookChange, removed: Span | None = None
    ) -> None:
        """Write the pages that a change touches, and the span of a deleted meal."""
        if not change:
            return
        touched = {page_key(r.start_s) for r in (*change.drop, *change.add)}
        if new := touched.difference(self._keys):
            self._keys = sorted({*self._keys, *new})
            await self._index.async_save({"pages": self._keys})
        for key in sorted(touched):
            page = await self._page(key)
            page.change(
                (r for r in change.drop if page_key(r.start_s) == key),
                (r for r in change.add if page_key(r.start_s) == key),
            )
            if removed is not None and page_key(removed[0]) == key:
                page.removed.append(removed)
            await self._file(key).async_save(page.as_mapping())
        await self._async_note_newest()
        self._newer.async_notify()
        self._changes.async_notify(change)

    async def _async_note_newest(self) -> None:
        self._newest = [
            record
            for key in self._keys[-2:]
            for record in (await self._page(key)).records
        ]
