"""A planned dish against what it took: the plan is noted when a meal begins.

It is written to disk at once, so that a restart between pot and plate loses nothing.
"""

import logging

from homeassistant.core import HomeAssistant, callback

from ..advice.advice_runner import AdviceRunner
from ..coordinator import GalleyCoordinator
from ..core.events import Event, MealSettled
from ..core.live.live_view import LiveView
from ..core.meals.expected_meals import Expectation, ExpectedMeals, ExpectedMealsState
from ..core.meals.meal_builder import HOT_DRINK
from ..state.boat_store import BoatStore

_LOGGER = logging.getLogger(__name__)


class ExpectedStore(BoatStore[ExpectedMealsState]):
    """What one boat's meals were expected to take."""

    file = "expected"


class ExpectedMeal:
    """Notes the plan of one boat when a meal begins, and holds the meal against it."""

    def __init__(
        self,
        hass: HomeAssistant,
        coordinator: GalleyCoordinator,
        advice: AdviceRunner,
    ) -> None:
        """Expect nothing."""
        self._hass = hass
        self._coordinator = coordinator
        self._advice = advice
        self._store = ExpectedStore(hass, coordinator.config_entry.entry_id)
        self.meals = ExpectedMeals()

    async def async_start(self) -> None:
        """Take up what was kept, and follow the boat as long as it is loaded."""
        entry = self._coordinator.config_entry
        if (stored := await self._store.async_load()) is not None:
            try:
                self.meals.restore(stored)
            except (KeyError, TypeError, ValueError) as err:
                _LOGGER.warning(
                    "%s: what meals were expected to take cannot be read: %r",
                    entry.title,
                    err,
                )
        entry.async_on_unload(
            self._coordinator.async_add_listener(self._async_published)
        )
        entry.async_on_unload(self._coordinator.async_subscribe(self._async_settled))

    @callback
    def _async_published(self) -> None:
        coordinator = self._coordinator
        # Before the past is read, what is shown may still be explained otherwise.
        if (
            coordinator.data is None
            or coordinator.catching_up
            or coordinator.provisional
        ):
            return
        if self.observe(coordinator.data):
            self._keep()

    def observe(self, view: LiveView) -> bool:
        """Take the present; return whether a meal has just begun.

        Such a meal gets the present guess.
        """
        meal = view.current_meal
        if meal is None or self.meals.knows(meal):
            return False
        dish, result = self._advice.planned, self._advice.result
        if result is None:
            # Right after a start the plan may not be restored yet; it comes within moments.
            return False
        if meal.label == HOT_DRINK and (
            dish is None or set(dish.minutes).isdisjoint(meal.appliances)
        ):
            # A cup of tea first; the plan counts when the cooking begins.
            return False
        if dish is None:
            self.meals.begin(meal, None)
            return True
        expected_wh = result.view.cookbook.cost(self._coordinator.boat, dish).energy_wh
        advice = result.advice
        expected_ah = None
        if advice is not None and advice.dish == dish.name and advice.dish_ah:
            expected_ah = advice.dish_ah
        expectation = Expectation(
            dish.name, tuple(dish.minutes), expected_wh, expected_ah
        )
        self.meals.begin(meal, expectation if expected_wh > 0.0 else None)
        return True

    @callback
    def _async_settled(self, events: list[Event], is_news: bool) -> None:
        settled = [
            self.meals.settle(event.meal)
            for event in events
            if isinstance(event, MealSettled)
        ]
        if any(settled):
            self._keep()

    def _keep(self) -> None:
        self._coordinator.config_entry.async_create_task(
            self._hass,
            self._store.async_save(self.meals.snapshot()),
            f"{self._coordinator.name} plan is kept",
        )
