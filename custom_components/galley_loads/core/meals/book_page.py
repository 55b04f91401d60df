"""One month of the book: what is written and read at a time.

A book of many years is a stack of pages; a change rewrites the one page it is on, and
looking for something needs no more than one page at a time in memory.
"""

from bisect import insort
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from .filing_rules import Span
from .meal_record import MealRecord, record_from_mapping, record_to_mapping


def page_key(at_s: float) -> str:
    """Return the page on which a meal that begins at this moment is: `2026-05` (UTC)."""
    return datetime.fromtimestamp(at_s, UTC).strftime("%Y-%m")


def page_key_of_id(meal_id: str) -> str:
    """Return the page of a meal by its id."""
    return f"{meal_id[:4]}-{meal_id[4:6]}"


@dataclass(slots=True)
class Page:
    """The meals that began in one month, in order of time.

    `removed` are the spans of deleted meals. Rows that cannot be read (written by a later
    release, or damaged) are kept as they are and written back.
    """

    records: list[MealRecord] = field(default_factory=list)
    removed: list[Span] = field(default_factory=list)
    unreadable: list[Any] = field(default_factory=list)

    def get(self, meal_id: str) -> MealRecord | None:
        """Return the meal of that id, None without one."""
        return next((r for r in self.records if r.meal_id == meal_id), None)

    def change(self, drop: Iterable[MealRecord], add: Iterable[MealRecord]) -> None:
        """Take some meals out and put others in."""
        gone = list(drop)
        self.records = [record for record in self.records if record not in gone]
        for record in add:
            insort(self.records, record, key=lambda r: r.start_s)

    def as_mapping(self) -> dict[str, Any]:
        """Return the page as plain data, fit for JSON."""
        return {
            "meals": [record_to_mapping(record) for record in self.records]
            + self.unreadable,
            "removed": [list(span) for span in self.removed],
        }


def page_from_mapping(state: Mapping[str, Any]) -> Page:
    """Return the page that `as_mapping` wrote."""
    page = Page(removed=[(start, end) for start, end in state.get("removed", ())])
    for row in state["meals"]:
        try:
            page.records.append(record_from_mapping(row))
        except AttributeError, KeyError, TypeError, ValueError:
            page.unreadable.append(row)
    page.records.sort(key=lambda record: record.start_s)
    return page
