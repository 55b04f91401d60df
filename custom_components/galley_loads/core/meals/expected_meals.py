"""What the planned dish was expected to take, kept until its meal is over.

A meal is settled up to an hour after it ended; by then the crew may have planned another
dish, or the next meal may have begun. So the guess of the moment in which a meal began is
kept with that moment, for the last few meals.
"""

from dataclasses import dataclass
from typing import Final, TypedDict

from ..stateful import Row, checked, from_row, row
from .dish_cost import Reckoning, reckon
from .meal_builder import HOT_DRINK, Meal

BEFORE_S: Final = 900.0
"""A meal's start may be told anew by as much."""

MEALS_KEPT: Final = 8


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a planned dish was expected to take when its meal began.

    `expected_wh` is on the AC side, above 0; `expected_ah` at the bank, None if unknown.
    `appliances` are those that the dish is cooked with, none if it does not say.
    """

    dish: str
    appliances: tuple[str, ...]
    expected_wh: float
    expected_ah: float | None = None

    def fits(self, meal: Meal) -> bool:
        """Whether a meal can be the dish: not if it was cooked with something else."""
        if self.appliances:
            return not set(self.appliances).isdisjoint(meal.appliances)
        return meal.label != HOT_DRINK


@dataclass(frozen=True, slots=True)
class _Begun:
    """A meal that began, and what was planned then."""

    start_s: float
    expectation: Expectation | None


class ExpectedMealsState(TypedDict):
    """What `ExpectedMeals` saves."""

    begun: list[Row]
    last: tuple[float, Row] | None


class ExpectedMeals:
    """Remembers what was planned when the last few meals began.

    `last` is the newest planned dish that was cooked, None before the first.
    """

    def __init__(self) -> None:
        """Expect nothing."""
        self._begun: list[_Begun] = []
        self._last_start_s = float("-inf")
        self.last: Reckoning | None = None

    def knows(self, meal: Meal) -> bool:
        """Whether what was planned when this meal began has been noted."""
        return any(one.start_s >= meal.start_s - BEFORE_S for one in self._begun)

    def begin(self, meal: Meal, expectation: Expectation | None) -> None:
        """Note what is planned while a meal begins; None: nothing is."""
        self._begun = [*self._begun, _Begun(meal.start_s, expectation)][-MEALS_KEPT:]

    def of(self, meal: Meal) -> Expectation | None:
        """Return what a meal had been expected to take, None if nothing was planned."""
        begun = [
            one
            for one in self._begun
            if meal.start_s - BEFORE_S <= one.start_s <= meal.end_s
        ]
        if not begun:
            return None
        expectation = min(
            begun, key=lambda b: abs(b.start_s - meal.start_s)
        ).expectation
        fits = expectation is not None and expectation.fits(meal)
        return expectation if fits else None

    def reckon(self, meal: Meal) -> Reckoning | None:
        """Return a meal against its plan, None if nothing was planned."""
        expectation = self.of(meal)
        if expectation is None:
            return None
        return reckon(expectation.dish, expectation.expected_wh, meal)

    def settle(self, meal: Meal) -> bool:
        """Take a meal that is over; return whether `last` is another now.

        The same meal may be told again after a restart; that changes nothing.
        """
        reckoning = self.reckon(meal)
        if reckoning is None or meal.start_s < self._last_start_s:
            return False
        changed = reckoning != self.last or meal.start_s != self._last_start_s
        self._last_start_s, self.last = meal.start_s, reckoning
        return changed

    def snapshot(self) -> ExpectedMealsState:
        """Return the state as plain data."""
        last = self.last
        return {
            "begun": [row(one) for one in self._begun],
            "last": None if last is None else (self._last_start_s, row(last)),
        }

    def restore(self, state: object) -> None:
        """Take a state that `snapshot` gave.

        Raises:
            StateError: it is none; nothing has changed then.
        """
        stored = checked(ExpectedMealsState, state)
        begun = [from_row(_Begun, one) for one in stored["begun"]]
        last, start_s = None, float("-inf")
        if stored["last"] is not None:
            start_s, values = stored["last"]
            last = from_row(Reckoning, values)
        self._begun, self._last_start_s, self.last = begun, start_s, last
