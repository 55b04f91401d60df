"""What the crew says of a meal teaches what a dish takes.

Tying a meal to a dish, untying it, splitting, joining or deleting such a meal changes what
the engine's cookbook knows. An engine that comes out of the past knows no dish yet and is
told of all of them.
"""

from homeassistant.core import callback

from ..coordinator import GalleyCoordinator
from ..core.engine import Engine
from ..core.meals.filing_rules import BookChange
from ..core.meals.meal_query import MealFilter
from ..state.meal_store import MealStore


class DishLearning:
    """Carries the dishes of one boat's meal book into its engine."""

    def __init__(self, coordinator: GalleyCoordinator, store: MealStore) -> None:
        """Know whom to teach."""
        self._coordinator = coordinator
        self._store = store

    @callback
    def async_start(self) -> None:
        """Follow the book as long as the boat is loaded."""
        self._coordinator.config_entry.async_on_unload(
            self._store.async_listen_changes(self._async_changed)
        )

    @callback
    def _async_changed(self, change: BookChange) -> None:
        if not any(record.dish for record in (*change.drop, *change.add)):
            return

        def teach(engine: Engine) -> None:
            for record in change.drop:
                if record.dish:
                    engine.outlook().unlabel_meal(record.meal, record.dish)
            for record in change.add:
                if record.dish:
                    engine.outlook().label_meal(record.meal, record.dish)

        self._coordinator.config_entry.async_create_task(
            self._coordinator.hass,
            self._coordinator.async_with_engine(teach),
            "learn from a dish",
        )

    async def async_teach_all(self) -> None:
        """Tell a new engine of every meal that is tied to a dish."""
        tied = [
            (record.meal, record.dish)
            async for record in self._store.async_meals(MealFilter())
            if record.dish
        ]

        def teach(engine: Engine) -> None:
            for meal, dish in tied:
                engine.outlook().label_meal(meal, dish)

        if tied:
            await self._coordinator.async_with_engine(teach)
