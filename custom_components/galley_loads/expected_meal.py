"""What the planned dish was expected to take, kept until its meal is over."""

from typing import Final

from .coordinator import GalleyCoordinator
from .core.live import LiveView
from .core.meals import Meal

_BEFORE_S: Final = 900.0
"""A meal's start may be told anew by as much."""


class ExpectedMeal:
    """Remembers the guess for the dish that was planned when a meal began."""

    def __init__(self, coordinator: GalleyCoordinator) -> None:
        """Expect nothing."""
        self._coordinator = coordinator
        self._start_s: float | None = None
        self._expected_ah: float | None = None

    def observe(self, view: LiveView) -> None:
        """Take the present; a meal that has just begun gets the present guess."""
        meal = view.current_meal
        if meal is None:
            return
        if self._start_s is not None and meal.start_s <= self._start_s + _BEFORE_S:
            return
        self._start_s = meal.start_s
        self._expected_ah = None
        runner = self._coordinator.advice
        dish, result = runner.planned, runner.result
        if dish is None or result is None or result.advice is None:
            return
        if result.advice.dish == dish.name and result.advice.dish_ah:
            # Cooked with something else, it was another meal than the planned one.
            if not dish.minutes or set(dish.minutes) & set(meal.appliances):
                self._expected_ah = result.advice.dish_ah

    def of(self, meal: Meal) -> float | None:
        """Return what a meal had been expected to take at the bank, Ah, None if nothing."""
        start_s = self._start_s
        if start_s is None or not meal.start_s - _BEFORE_S <= start_s <= meal.end_s:
            return None
        return self._expected_ah
