"""Meals as a spreadsheet and as JSON.

A spreadsheet program takes a cell that begins with certain characters for a formula and
runs it. Labels, dishes and names of appliances are free text, so such a text gets a
single quote in front and every text is put in double quotes, as the OWASP community page
"CSV Injection" advises. Numbers are ours and stay numbers.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, tzinfo
import json
from typing import Any, Final

from ..inference.model.activity import Run
from .meal_record import MealRecord

COLUMNS: Final = (
    "id",
    "start",
    "end",
    "boat_time",
    "label",
    "dish",
    "appliances",
    "energy_wh",
    "bank_ah",
    "drawn_ah",
    "net_ah",
    "solar_share",
    "soc_start",
    "soc_end",
)

# OWASP: equals, plus, minus, at, tab, carriage return, line feed and the full-width
# forms of the first four.
_FORMULA_STARTS: Final = (
    *("=", "+", "-", "@", "\t", "\r", "\n"),
    *("\uff1d", "\uff0b", "\uff0d", "\uff20"),
)

type Cell = str | float | None


def iso(at_s: float) -> str:
    """Return a time as ISO text in UTC, to the second."""
    return datetime.fromtimestamp(round(at_s), UTC).isoformat()


def meal_row(record: MealRecord, zone: tzinfo) -> dict[str, Cell]:
    """Return the meal's columns; energies in Wh, charges in Ah, charge in percent."""
    meal = record.meal
    at = datetime.fromtimestamp(round(record.start_s), UTC).astimezone(zone)
    return {
        "id": record.meal_id,
        "start": iso(record.start_s),
        "end": iso(record.end_s),
        "boat_time": at.strftime("%Y-%m-%d %H:%M"),
        "label": record.label,
        "dish": record.dish,
        "appliances": ", ".join(meal.appliances),
        "energy_wh": round(meal.energy_wh, 1),
        "bank_ah": round(meal.bank_ah, 2),
        "drawn_ah": round(meal.drawn_ah, 2),
        "net_ah": _rounded(meal.net_ah, 2),
        "solar_share": _rounded(meal.solar_share, 3),
        "soc_start": _rounded(meal.soc_start, 1),
        "soc_end": _rounded(meal.soc_end, 1),
    }


def meal_details(record: MealRecord, zone: tzinfo) -> dict[str, Any]:
    """Return all that the book knows of a meal, its runs included, fit for JSON."""
    details: dict[str, Any] = meal_row(record, zone)
    details["appliances"] = list(record.meal.appliances)
    details["origin"] = record.origin.value
    details["edited"] = record.edited
    details["runs"] = [_run_row(run) for run in record.meal.runs]
    return details


def _run_row(run: Run) -> dict[str, Any]:
    return {
        "appliance": run.appliance,
        "start": iso(run.start_s),
        "end": iso(run.end_s),
        "energy_wh": round(run.energy_wh, 1),
        "bank_ah": round(run.bank_ah, 2),
        "drawn_ah": round(run.drawn_ah, 2),
        "peak_w": round(run.peak_w),
        "confidence": round(run.confidence, 2),
        "phases": [
            {"phase": p.phase.value, "start": iso(p.start_s), "end": iso(p.end_s)}
            for p in run.phases
        ],
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def neutral(text: str) -> str:
    """Return a text that no spreadsheet program takes for a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def csv_line(cells: Iterable[Cell]) -> str:
    """Return one line of a CSV file as RFC 4180 has it, texts neutralised."""
    return ",".join(_csv_cell(cell) for cell in cells) + "\r\n"


def _csv_cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        quoted = neutral(cell).replace('"', '""')
        return f'"{quoted}"'
    return str(cell)


class CsvExport:
    """Writes a CSV file meal by meal."""

    def __init__(self, zone: tzinfo) -> None:
        """Write boat times in this zone."""
        self._zone = zone

    def head(self) -> str:
        """Return what comes before the meals: the names of the columns."""
        return csv_line(COLUMNS)

    def meal(self, record: MealRecord) -> str:
        """Return one meal."""
        return csv_line(meal_row(record, self._zone).values())

    def tail(self) -> str:
        """Return what comes after the meals."""
        return ""


class JsonExport:
    """Writes a JSON array meal by meal, runs included, one meal a line."""

    def __init__(self, zone: tzinfo) -> None:
        """Write boat times in this zone."""
        self._zone = zone
        self._between = "\n"

    def head(self) -> str:
        """Return what comes before the meals."""
        return "["

    def meal(self, record: MealRecord) -> str:
        """Return one meal, with what separates it from the one before."""
        between, self._between = self._between, ",\n"
        return between + json.dumps(
            meal_details(record, self._zone), ensure_ascii=False
        )

    def tail(self) -> str:
        """Return what comes after the meals."""
        return "\n]\n"
