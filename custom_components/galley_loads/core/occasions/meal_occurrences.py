"""Meals that are over, and hot drinks."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..boat.boat import Boat
from ..meals.dish_cost import Reckoning
from ..meals.meal_builder import HOT_DRINK, Meal
from .occurrence import Fact, Occurrence, OccurrenceKind

_MATTERS_S: Final = 10 * 3600.0
"""How long a finished meal matters: an evening's meal may wait for the morning."""


@dataclass(frozen=True, slots=True)
class PlannedMeal:
    """What had been planned for a meal: its dish against what it took, Ah at the bank."""

    reckoning: Reckoning | None = None
    expected_ah: float | None = None


class MealOccurrences:
    """Keeps the last meal that is over as long as it matters."""

    def __init__(self, boat: Boat) -> None:
        """Know the bank."""
        self._capacity_ah = boat.bank.capacity_ah
        self._last: dict[OccurrenceKind, Occurrence] = {}

    def settle(self, meal: Meal, planned: PlannedMeal) -> Occurrence:
        """Take a meal that is over; return it as an occurrence."""
        hot_drink = meal.label == HOT_DRINK
        kind = (
            OccurrenceKind.HOT_DRINK_FINISHED
            if hot_drink
            else OccurrenceKind.MEAL_FINISHED
        )
        facts: dict[str, Fact] = {
            "appliances": tuple(meal.appliances),
            "started_s": meal.start_s,
            "energy_wh": meal.energy_wh,
            "bank_ah": meal.bank_ah,
            "bank_share": meal.bank_ah / self._capacity_ah,
            "sun_share": meal.solar_share,
            "expected_ah": planned.expected_ah,
        }
        if (reckoning := planned.reckoning) is not None:
            facts |= {
                "dish": reckoning.dish,
                "expected_wh": reckoning.expected_wh,
                "difference_wh": reckoning.difference_wh,
            }
        occurrence = Occurrence(
            kind,
            meal.label,
            f"{meal.start_s:.0f}",
            meal.end_s,
            meal.confidence,
            facts,
        )
        self._last[kind] = occurrence
        return occurrence

    def observe(self, at_s: float) -> list[Occurrence]:
        """Take the time; return what has occurred and still matters."""
        self._last = {
            kind: last
            for kind, last in self._last.items()
            if at_s - last.at_s <= _MATTERS_S
        }
        return list(self._last.values())

    def snapshot(self) -> list[dict[str, Any]]:
        """Return the state as JSON-able data."""
        return [
            {
                "kind": one.kind.value,
                "subject": one.subject,
                "key": one.key,
                "at_s": one.at_s,
                "certainty": one.certainty,
                "facts": dict(one.facts),
            }
            for one in self._last.values()
        ]

    def restore(self, state: list[Mapping[str, Any]]) -> None:
        """Take up a state from `snapshot`."""
        self._last = {}
        for kept in state:
            kind = OccurrenceKind(kept["kind"])
            facts = {
                name: tuple(value) if isinstance(value, list) else value
                for name, value in kept["facts"].items()
            }
            self._last[kind] = Occurrence(
                kind,
                kept["subject"],
                kept["key"],
                kept["at_s"],
                kept["certainty"],
                facts,
            )
