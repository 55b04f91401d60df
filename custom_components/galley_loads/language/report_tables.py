"""A report as tables that a person reads, and as data with sentences."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from ..core.replay.replay import Report, report_to_json
from .speech import english

UNKNOWN: Final = "-"


def report_text(report: Report) -> str:
    """Return the whole report: meals, appliances, standby, where the load went, remarks."""
    parts = [
        _heading(report),
        _meals(report),
        _appliances(report),
        _standby(report),
        _balance(report),
        "\n".join(english(report.boat.time_zone).say_all(report.remarks)),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def report_in_json(report: Report) -> dict[str, Any]:
    """Return the report as plain data, its remarks as sentences."""
    remarks = english(report.boat.time_zone).say_all(report.remarks)
    return report_to_json(report) | {"remarks": remarks}


def table(header: Sequence[str], rows: Sequence[Sequence[str]], align: str) -> str:
    """Return rows in columns two spaces apart; `align` has one of < and > per column."""
    widths = [max(len(row[i]) for row in [header, *rows]) for i in range(len(header))]
    return "\n".join(
        "  ".join(
            f"{cell:{side}{width}}"
            for cell, side, width in zip(row, align, widths, strict=True)
        ).rstrip()
        for row in [header, *rows]
    )


def number(value: float | None, digits: int = 0) -> str:
    """Return a number with a fixed number of decimals, a dash where there is none."""
    return UNKNOWN if value is None else f"{value:.{digits}f}"


def percent(share: float | None) -> str:
    """Return a share from 0 to 1 in percent."""
    return UNKNOWN if share is None else f"{100 * share:.0f} %"


def duration(seconds: float) -> str:
    """Return a time span in hours and minutes, a short one in minutes and seconds."""
    if seconds < 600:
        return f"{seconds // 60:.0f}:{seconds % 60:02.0f} min"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60}:{minutes % 60:02} h"


def _local(report: Report, at_s: float) -> str:
    return datetime.fromtimestamp(at_s, report.boat.time_zone).strftime(
        "%a %d %b %H:%M"
    )


def _heading(report: Report) -> str:
    if report.from_s is None or report.to_s is None:
        return f"{report.boat.name}: no readings"
    return (
        f"{report.boat.name}, {_local(report, report.from_s)} to"
        f" {_local(report, report.to_s)} ({report.boat.time_zone}),"
        f" {report.readings} readings"
    )


def _meals(report: Report) -> str:
    if not report.meals:
        return "No meals."
    rows = [
        [
            _local(report, meal.start_s),
            duration(meal.end_s - meal.start_s),
            meal.label,
            ", ".join(meal.appliances),
            number(meal.energy_wh),
            number(meal.bank_ah, 1),
            number(meal.drawn_ah, 1),
            number(meal.net_ah, 1),
            percent(meal.solar_share),
            f"{number(meal.soc_start)} to {number(meal.soc_end)} %"
            if meal.soc_start is not None
            else UNKNOWN,
        ]
        for meal in report.meals
    ]
    header = (
        "Meal",
        "Lasted",
        "Label",
        "Appliances",
        "Wh",
        "Bank Ah",
        "Drawn Ah",
        "Net Ah",
        "Sun",
        "Charge",
    )
    return table(header, rows, "<><<>>>>>>")


def _appliances(report: Report) -> str:
    rows: list[list[str]] = []
    learnt = {power.appliance: power for power in report.learnt}
    for name, energy_wh in report.appliance_wh.items():
        runs = [run for run in report.runs if run.appliance == name]
        power = learnt.get(name)
        rows.append(
            [
                name,
                str(len(runs)),
                duration(sum(run.end_s - run.start_s for run in runs)),
                number(energy_wh),
                number(max((run.peak_w for run in runs), default=None)),
                number(None if power is None or not power.runs else power.rated_w),
            ]
        )
    if not rows:
        return ""
    header = ("Appliance", "Runs", "On", "Wh", "Peak W", "Learnt W")
    return table(header, rows, "<>>>>>")


def _standby(report: Report) -> str:
    rows = [
        [
            account.appliance,
            account.circuit or UNKNOWN,
            number(account.mean_w, 1),
            number(account.energy_wh),
        ]
        for account in report.standby
    ]
    if not rows:
        return "No standby draw found."
    return table(("Standby", "Circuit", "Mean W", "Wh"), rows, "<<>>")


def _balance(report: Report) -> str:
    load_wh = report.load_wh
    parts = (
        ("runs", sum(report.appliance_wh.values())),
        ("standby", sum(account.energy_wh for account in report.standby)),
        ("background", report.background_wh),
        ("unassigned", report.unassigned_wh),
        ("load", load_wh),
    )
    rows = [
        [name, number(wh), percent(wh / load_wh if load_wh > 0 else None)]
        for name, wh in parts
    ]
    text = table(("Where it went", "Wh", "Share"), rows, "<>>")
    if report.unmeasured_s >= 60:
        text += f"\nNot measured: {duration(report.unmeasured_s)}, counted as nothing known."
    return text
