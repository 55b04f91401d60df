"""What a dish takes: from its past meals, else as stated, else from minutes by kind."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from typing import Final, TypedDict

from ..boat.boat import Boat, Dish
from ..inference.model.activity import Run
from ..stateful import Row, from_row, row
from .meal_builder import Meal

_COOKINGS_KEPT: Final = 20
DISHES_KEPT: Final = 100
_PRIOR_COOKINGS: Final = 1.0
_STATED_SPREAD: Final = 0.12
_TYPICAL_SPREAD: Final = 0.25
_DEFAULT_MINUTES: Final = 30.0
_LONG_DISH_W: Final = 1000.0
"""A dish of energy alone is spread over half an hour, or longer at this mean power."""

_RUNS_KEPT: Final = 30
_PRIOR_RUN_MINUTES: Final = 30.0


class CostSource(StrEnum):
    """Where a dish's cost comes from."""

    PAST_MEALS = "past_meals"
    STATED = "stated"
    TYPICAL = "typical"


@dataclass(frozen=True, slots=True)
class Cooking:
    """One time that a dish was cooked."""

    at_s: float
    energy_wh: float
    minutes: float
    peak_w: float
    appliances: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DishCost:
    """What a dish is expected to take on the AC side.

    `spread_wh` is one standard deviation of a single cooking. `peak_w` is the most it
    draws at once, None while that is not known; `appliances` the ones it needs, `times` how often it was cooked.
    """

    energy_wh: float
    spread_wh: float
    minutes: float
    peak_w: float | None
    appliances: tuple[str, ...]
    source: CostSource
    times: int = 0


_NOTHING_KNOWN: Final = DishCost(
    0.0, 0.0, _DEFAULT_MINUTES, None, (), CostSource.STATED
)


@dataclass(frozen=True, slots=True)
class Reckoning:
    """A cooked dish: expected against taken, Wh on the AC side."""

    dish: str
    expected_wh: float
    taken_wh: float

    @property
    def difference_wh(self) -> float:
        """How much more it took than expected."""
        return self.taken_wh - self.expected_wh

    @property
    def difference_percent(self) -> float:
        """The same as a percentage of what was expected, which must be above 0."""
        return 100.0 * self.difference_wh / self.expected_wh


def reckon(dish: str, expected_wh: float, meal: Meal) -> Reckoning:
    """Return a cooked dish against what was expected when it was planned."""
    return Reckoning(dish, expected_wh, meal.energy_wh)


def cooking_of(meal: Meal) -> Cooking:
    """Return a meal as one time that a dish was cooked."""
    return Cooking(
        meal.start_s,
        meal.energy_wh,
        (meal.end_s - meal.start_s) / 60.0,
        peak_together_w(meal.runs),
        meal.appliances,
    )


def peak_together_w(runs: Iterable[Run]) -> float:
    """Return the most that runs can have drawn at once: their peaks where they overlap."""
    listed = list(runs)
    return max(
        (
            sum(r.peak_w for r in listed if r.start_s <= run.start_s < r.end_s)
            for run in listed
        ),
        default=0.0,
    )


class CookbookState(TypedDict):
    """What `Cookbook` saves."""

    dishes: dict[str, list[Row]]
    runs: dict[str, list[tuple[float, float, float]]]


class Cookbook:
    """Remembers what dishes took, and what each appliance takes per minute of use."""

    def __init__(self) -> None:
        """Start with an empty book."""
        self._dishes: dict[str, tuple[Cooking, ...]] = {}
        self._runs: dict[str, tuple[tuple[float, float, float], ...]] = {}

    def note_cooking(self, dish: str, cooking: Cooking) -> None:
        """Remember that a dish was cooked; the same meal noted again replaces the first."""
        before = [c for c in self._dishes.get(dish, ()) if c.at_s != cooking.at_s]
        kept = sorted([*before, cooking], key=lambda c: c.at_s)[-_COOKINGS_KEPT:]
        self._dishes.pop(dish, None)
        self._dishes[dish] = tuple(kept)
        while len(self._dishes) > DISHES_KEPT:
            del self._dishes[next(iter(self._dishes))]

    def forget_cooking(self, dish: str, at_s: float) -> None:
        """Take a meal back from a dish (it was labelled otherwise)."""
        kept = tuple(c for c in self._dishes.get(dish, ()) if c.at_s != at_s)
        if kept:
            self._dishes[dish] = kept
        else:
            self._dishes.pop(dish, None)

    def note_run(self, run: Run) -> None:
        """Learn what an appliance takes from one of its runs."""
        minutes = (run.end_s - run.start_s) / 60.0
        if minutes <= 0.0:
            return
        run_row = (round(minutes, 2), round(run.energy_wh, 2), round(run.peak_w, 1))
        self._runs[run.appliance] = (*self._runs.get(run.appliance, ()), run_row)[
            -_RUNS_KEPT:
        ]

    def page(self) -> CookbookPage:
        """Return what is known now, immutable."""
        return CookbookPage(dict(self._dishes), dict(self._runs))

    def snapshot(self) -> CookbookState:
        """Return the state, JSON-able."""
        return {
            "dishes": {
                name: [row(cooking) for cooking in cookings]
                for name, cookings in self._dishes.items()
            },
            "runs": {name: list(runs) for name, runs in self._runs.items()},
        }

    def restore(self, state: CookbookState) -> None:
        """Take a state that `snapshot` gave."""
        self._dishes = {
            name: tuple(from_row(Cooking, one) for one in cookings)
            for name, cookings in state["dishes"].items()
        }
        self._runs = {
            name: tuple((minutes, wh, peak_w) for minutes, wh, peak_w in runs)
            for name, runs in state["runs"].items()
        }


@dataclass(frozen=True, slots=True)
class CookbookPage:
    """What is known of dishes and appliances at one time.

    `runs` holds minutes, Wh and peak W of each appliance's recent runs.
    """

    dishes: Mapping[str, tuple[Cooking, ...]]
    runs: Mapping[str, tuple[tuple[float, float, float], ...]]

    def cookings(self, dish: str) -> tuple[Cooking, ...]:
        """Return the past times of a dish, oldest first."""
        return self.dishes.get(dish, ())

    def full_power_w(self, boat: Boat, name: str) -> float:
        """Return what an appliance draws at most: usual peak of its runs, else its plate."""
        rated_w = boat.appliance(name).rated_power_w
        peaks = sorted(row[2] for row in self.runs.get(name, ()))
        if len(peaks) < 3:
            return rated_w
        usual = peaks[int(0.8 * (len(peaks) - 1))]
        # A plate is right to a tenth; a hob that was never turned up can still be.
        return min(max(usual, 0.9 * rated_w), 1.1 * rated_w)

    def minutes_energy_wh(self, boat: Boat, name: str, minutes: float) -> float:
        """Return what an appliance takes in so many minutes.

        Its kind's typical draw, drawn to what its own runs of a like length took.
        """
        appliance = boat.appliance(name)
        typical = appliance.kind.typical_energy_wh(appliance.rated_power_w, minutes)
        if minutes <= 0.0:
            return 0.0
        weight, ratio = _PRIOR_RUN_MINUTES, _PRIOR_RUN_MINUTES
        for took_minutes, energy_wh, _ in self.runs.get(name, ()):
            if not 0.5 <= took_minutes / minutes <= 2.0:
                continue
            usual = appliance.kind.typical_energy_wh(
                appliance.rated_power_w, took_minutes
            )
            if usual > 0.0:
                weight += took_minutes
                ratio += took_minutes * energy_wh / usual
        return typical * ratio / weight

    def cost_of_minutes(self, boat: Boat, minutes: Mapping[str, float]) -> DishCost:
        """Return the cost of appliances run for so many minutes each, side by side.

        Raises:
            KeyError: an appliance that the boat does not have.
        """
        energies = {n: self.minutes_energy_wh(boat, n, m) for n, m in minutes.items()}
        energy_wh = sum(energies.values())
        return DishCost(
            energy_wh,
            _TYPICAL_SPREAD * sqrt(sum(e * e for e in energies.values())),
            max(minutes.values(), default=_DEFAULT_MINUTES),
            sum(self.full_power_w(boat, name) for name in minutes),
            tuple(minutes),
            CostSource.TYPICAL,
        )

    def cost(self, boat: Boat, dish: Dish) -> DishCost:
        """Return what a dish is expected to take."""
        past = self.cookings(dish.name)
        before = (
            self._cost_before(boat, dish) if dish.minutes or dish.energy_wh else None
        )
        if not past:
            if before is None:
                return _NOTHING_KNOWN
            return before
        return _mixed(past, before)

    def _cost_before(self, boat: Boat, dish: Dish) -> DishCost:
        """Return the cost without past meals: stated energy, else minutes by kind."""
        by_minutes = self.cost_of_minutes(boat, dish.minutes) if dish.minutes else None
        if dish.energy_wh is None:
            return by_minutes or _NOTHING_KNOWN
        stated_wh = dish.energy_wh
        at_least = max(_DEFAULT_MINUTES, 60.0 * stated_wh / _LONG_DISH_W)
        minutes = by_minutes.minutes if by_minutes else at_least
        return DishCost(
            stated_wh,
            _STATED_SPREAD * stated_wh,
            minutes,
            by_minutes.peak_w if by_minutes else None,
            by_minutes.appliances if by_minutes else (),
            CostSource.STATED,
        )


def _mixed(past: Sequence[Cooking], before: DishCost | None) -> DishCost:
    """Return the mean of past cookings, what was expected before counting as one of them."""
    count = len(past)
    prior = _PRIOR_COOKINGS if before is not None else 0.0
    energies = [c.energy_wh for c in past]
    prior_wh = before.energy_wh if before is not None else 0.0
    mean = (sum(energies) + prior * prior_wh) / (count + prior)
    # The spread of past cookings, drawn to the usual one while they are few.
    usual = _TYPICAL_SPREAD * mean
    deviations = sum((e - sum(energies) / count) ** 2 for e in energies)
    spread = sqrt((deviations + 2.0 * usual**2) / (count - 1 + 2.0))
    appliances: dict[str, None] = {}
    for cooking in reversed(past):
        appliances.update(dict.fromkeys(cooking.appliances))
    return DishCost(
        mean,
        spread,
        sum(c.minutes for c in past) / count,
        max(c.peak_w for c in past),
        tuple(appliances),
        CostSource.PAST_MEALS,
        count,
    )
