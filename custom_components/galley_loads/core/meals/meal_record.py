"""A meal as the book keeps it: what was found, and what the crew said about it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from .meal_builder import Meal, meal_from_mapping, meal_to_mapping


class Origin(StrEnum):
    """How a meal came into the book."""

    LIVE = "live"
    HISTORY = "history"


@dataclass(frozen=True, slots=True)
class MealRecord:
    """One entry of the meal book.

    `meal` is what the engine found; its label is a guess by the time of day. `given_label`
    and `dish` are the crew's own words and go before the guess. `edited` says that the
    crew touched the entry: no later finding replaces it.
    """

    meal_id: str
    meal: Meal
    origin: Origin = Origin.LIVE
    given_label: str | None = None
    dish: str | None = None
    edited: bool = False

    @property
    def label(self) -> str:
        """The crew's label where there is one, the found one otherwise."""
        return self.meal.label if self.given_label is None else self.given_label

    @property
    def start_s(self) -> float:
        """When the meal began, Unix seconds."""
        return self.meal.start_s

    @property
    def end_s(self) -> float:
        """When the meal ended, Unix seconds."""
        return self.meal.end_s

    @property
    def solar_wh(self) -> float | None:
        """The energy that came straight from the sun; None where nobody can say."""
        share = self.meal.solar_share
        return None if share is None else share * self.meal.energy_wh

    def overlaps(self, start_s: float, end_s: float) -> bool:
        """Whether the meal shares any time with a span."""
        return self.start_s < end_s and start_s < self.end_s

    def labelled(
        self, given_label: str | None = None, dish: str | None = None
    ) -> MealRecord:
        """Return the entry with another label or dish; None leaves, "" clears."""
        return replace(
            self,
            given_label=self.given_label
            if given_label is None
            else given_label or None,
            dish=self.dish if dish is None else dish or None,
            edited=True,
        )


def meal_id(start_s: float) -> str:
    """Return the name of the meal that began at this moment: its start in UTC."""
    return datetime.fromtimestamp(start_s, UTC).strftime("%Y%m%dT%H%M%SZ")


def record_of(meal: Meal, origin: Origin) -> MealRecord:
    """Return the entry of a meal that was just found."""
    return MealRecord(meal_id(meal.start_s), meal, origin)


def record_to_mapping(record: MealRecord) -> dict[str, Any]:
    """Return an entry as plain data; what says nothing is left out."""
    row: dict[str, Any] = {
        "id": record.meal_id,
        "origin": record.origin.value,
        "meal": meal_to_mapping(record.meal),
    }
    if record.given_label is not None:
        row["label"] = record.given_label
    if record.dish is not None:
        row["dish"] = record.dish
    if record.edited:
        row["edited"] = True
    return row


def record_from_mapping(row: Mapping[str, Any]) -> MealRecord:
    """Return the entry that `record_to_mapping` wrote.

    Raises:
        KeyError: a field is missing.
        ValueError: the origin is none that is known.
    """
    return MealRecord(
        row["id"],
        meal_from_mapping(row["meal"]),
        Origin(row["origin"]),
        row.get("label"),
        row.get("dish"),
        bool(row.get("edited", False)),
    )
