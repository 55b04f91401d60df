"""The meal book: what was cooked, what it took, and what the crew calls it.

    record   one entry: the meal that was found and the crew's own words
    filing   how found meals get in, live or out of the past, once each
    edits    splitting and joining
    page     a month of the book, the unit of storage
    query    which meals, and their sums
    export   spreadsheet, JSON, plain text

All of it is plain data and functions; where it is stored is the platform side's affair.
"""

from .edits import MealEditError, join, split
from .export import CsvExport, JsonExport, iso, meal_details, meal_row, summary_lines
from .filing import Change, Span, file_history, file_live
from .page import Page, page_from_mapping, page_key, page_key_of_id
from .query import Grouping, MealFilter, MealSum, MealTally, select
from .record import (
    MealRecord,
    Origin,
    meal_id,
    record_from_mapping,
    record_of,
    record_to_mapping,
)

__all__ = [
    "Change",
    "CsvExport",
    "Grouping",
    "JsonExport",
    "MealEditError",
    "MealFilter",
    "MealRecord",
    "MealSum",
    "MealTally",
    "Origin",
    "Page",
    "Span",
    "file_history",
    "file_live",
    "iso",
    "join",
    "meal_details",
    "meal_id",
    "meal_row",
    "page_from_mapping",
    "page_key",
    "page_key_of_id",
    "record_from_mapping",
    "record_of",
    "record_to_mapping",
    "select",
    "split",
    "summary_lines",
]
