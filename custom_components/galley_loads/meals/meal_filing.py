"""Meals that live operation finds go into the book.

They are written before the engine's state is: a power cut between the two makes the meal
be told once more, which the book knows, instead of never.
"""

import asyncio

from homeassistant.core import callback

from ..coordinator import GalleyCoordinator
from ..core.events import Event, MealSettled
from ..core.meals.meal_builder import Meal
from ..state.meal_store import MealStore


class MealFiling:
    """Carries the meals of one boat from its coordinator into its book."""

    def __init__(self, coordinator: GalleyCoordinator, store: MealStore) -> None:
        """Start with nothing to carry."""
        self._coordinator = coordinator
        self._store = store
        self._waiting: list[Meal] = []
        self._lock = asyncio.Lock()

    @callback
    def async_start(self) -> None:
        """Listen as long as the boat is loaded."""
        entry = self._coordinator.config_entry
        entry.async_on_unload(self._coordinator.async_subscribe(self._async_settled))
        entry.async_on_unload(self._coordinator.async_before_saving(self.async_flush))

    @callback
    def _async_settled(self, events: list[Event], is_news: bool) -> None:
        meals = [event.meal for event in events if isinstance(event, MealSettled)]
        if not meals:
            return
        self._waiting.extend(meals)
        self._coordinator.config_entry.async_create_task(
            self._coordinator.hass, self.async_flush(), "file a meal"
        )

    async def async_flush(self) -> None:
        """Write what waits to be written."""
        async with self._lock:
            while self._waiting:
                await self._store.async_file_live(self._waiting[0])
                self._waiting.pop(0)
