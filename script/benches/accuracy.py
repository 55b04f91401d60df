"""Which appliance ran, and what did it take? Against truth, beside plain step pairing.

    script/bench accuracy [--case NAME] [--days 5] [--real FOLDER] [--house FOLDER]
                          [--json OUT.json]

Simulated boats (seeds never tuned on), and, where their folders are given, the real
installation (`boat.yaml`, `history.csv.gz`, `truth.json.gz`) and the one-minute house.
Per case: F1 of running time (pooled and mean over appliances), energy assigned (Kolter
and Johnson), meals found, meal energy error (a missed meal is 100 % wrong), meals with
exactly the right appliances, how many runs told with confidence .9 or more are right,
unnamed energy put on appliances, and what it cost. `live` is what would have been shown a
minute after the fact.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
import json
from pathlib import Path
from typing import Any, Final

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from demo.simulator import Truth
from script.benches.boats import CASES, simulated
from script.benches.metrics import (
    Span,
    estimated_accuracy,
    f1,
    macro_f1,
    match_spans,
    merged,
    overlap,
    pooled_f1,
    running_time,
)
from script.benches.real import house, installation
from script.benches.recording import STEP_S, Cost, Recording, SaidRun, infer
from script.benches.step_pairing import pair, steps

CONFIDENT: Final = 0.9


@dataclass(frozen=True, slots=True)
class RunFact:
    """One true or told run."""

    appliance: str
    start_s: float
    end_s: float
    energy_wh: float


@dataclass(slots=True)
class Figures:
    """What one boat's inference is worth."""

    f1: float
    macro: float
    energy: float
    meals: float
    meal_error: float
    worst_meal: float
    right_sets: float
    confident: int = 0
    confident_right: int = 0
    unnamed_on_appliances: float = 0.0
    live: float | None = None
    per_reading_us: float = 0.0
    worst_ms: float = 0.0
    per_appliance: dict[str, float] = field(default_factory=dict)


def meals_of(runs: Sequence[RunFact], boat: Boat) -> list[list[RunFact]]:
    """Group cooking runs into meals, as the engine does."""
    meals: list[list[RunFact]] = []
    end_s = float("-inf")
    for run in sorted(runs, key=lambda run: run.start_s):
        if not boat.appliance(run.appliance).kind.is_cooking:
            continue
        if run.start_s - end_s >= 60.0 * boat.meal_gap_minutes:
            meals.append([])
        meals[-1].append(run)
        end_s = max(end_s, run.end_s)
    return meals


def _bounds(meal: list[RunFact]) -> Span:
    return min(r.start_s for r in meal), max(r.end_s for r in meal)


def judge(
    boat: Boat,
    true_runs: Sequence[RunFact],
    true_grid: dict[str, Sequence[float]],
    said_runs: Sequence[RunFact],
    said_grid: dict[str, Sequence[float]],
) -> Figures:
    """Return the figures of one boat."""
    names = list(true_grid)
    true_spans = {
        n: [(r.start_s, r.end_s) for r in true_runs if r.appliance == n] for n in names
    }
    said_spans = {
        n: [(r.start_s, r.end_s) for r in said_runs if r.appliance == n] for n in names
    }
    counts = running_time(true_spans, said_spans)
    true_meals, said_meals = meals_of(true_runs, boat), meals_of(said_runs, boat)
    pairs = dict(
        match_spans([_bounds(m) for m in true_meals], [_bounds(m) for m in said_meals])
    )
    errors: list[float] = []
    right = 0
    for number, meal in enumerate(true_meals):
        if number not in pairs:
            errors.append(1.0)
            continue
        said = said_meals[pairs[number]]
        true_wh = sum(r.energy_wh for r in meal)
        errors.append(abs(sum(r.energy_wh for r in said) - true_wh) / max(1.0, true_wh))
        right += {r.appliance for r in meal} == {r.appliance for r in said}
    found = len(pairs)
    return Figures(
        f1=pooled_f1(counts.values()),
        macro=macro_f1(counts.values()),
        energy=estimated_accuracy(true_grid, said_grid),
        meals=f1(found, len(said_meals) - found, len(true_meals) - found),
        meal_error=sum(errors) / len(errors) if errors else 0.0,
        worst_meal=max(errors, default=0.0),
        right_sets=right / len(true_meals) if true_meals else 1.0,
        per_appliance={name: f1(*count) for name, count in counts.items()},
    )


def of_recording(
    boat: Boat,
    true_runs: Sequence[RunFact],
    true_grid: dict[str, Sequence[float]],
    recording: Recording,
    cost: Cost,
) -> Figures:
    """Return the figures of what inference said."""
    said = [
        RunFact(r.appliance, r.start_s, r.end_s, r.energy_wh) for r in recording.runs
    ]
    figures = judge(boat, true_runs, true_grid, said, dict(recording.grid))
    for run in recording.runs:
        if run.confidence >= CONFIDENT:
            figures.confident += 1
            figures.confident_right += _is_right(run, true_runs)
    figures.per_reading_us = cost.per_reading_us
    figures.worst_ms = 1000.0 * cost.worst_s
    if recording.live:
        truth = {
            n: [(r.start_s, r.end_s) for r in true_runs if r.appliance == n]
            for n in true_grid
        }
        figures.live = pooled_f1(running_time(truth, recording.live).values())
    return figures


def _is_right(run: SaidRun, true_runs: Sequence[RunFact]) -> bool:
    spans = merged(
        (r.start_s, r.end_s) for r in true_runs if r.appliance == run.appliance
    )
    return overlap([(run.start_s, run.end_s)], spans) > 0.5 * (run.end_s - run.start_s)


def baseline(
    boat: Boat,
    samples: Sequence[LoadSample],
    true_runs: Sequence[RunFact],
    true_grid: dict[str, Sequence[float]],
    start_s: float,
) -> Figures:
    """Return the figures of plain step pairing on the same samples."""
    load = [(s.at_s, s.load_w) for s in samples if s.load_w is not None]
    ratings = {a.name: a.rated_power_w for a in boat.appliances}
    cells = len(next(iter(true_grid.values())))
    grid: dict[str, list[float]] = {name: [0.0] * cells for name in true_grid}
    runs: list[RunFact] = []
    for found in pair(steps(load), ratings):
        if found.name is None:
            continue
        seconds = found.end_s - found.start_s
        runs.append(
            RunFact(
                found.name, found.start_s, found.end_s, found.power_w * seconds / 3600.0
            )
        )
        first = max(0, int((found.start_s - start_s) / STEP_S))
        last = min(cells, int((found.end_s - start_s) / STEP_S) + 1)
        for cell in range(first, last):
            grid[found.name][cell] += found.power_w
    return judge(boat, true_runs, true_grid, runs, dict(grid))


def unnamed_share(truth: Truth, recording: Recording) -> float:
    """Return the share of unnamed energy that was put on appliances, at most.

    Whatever energy appliances were given beyond their own, cell by cell, is held against
    the unnamed loads; it is an upper bound.
    """
    if truth.unnamed_wh <= 0.0:
        return 0.0
    over = 0.0
    for cell in range(recording.cells):
        true = sum(series[cell] for series in truth.grid.values())
        said = sum(series[cell] for series in recording.grid.values())
        over += max(0.0, said - 1.05 * true - 30.0)
    return over * STEP_S / 3600.0 / truth.unnamed_wh


HEADER: Final = (
    f"{'':26}{'F1':>6}{'macro':>7}{'energy':>8}{'meals':>7}{'error':>7}{'worst':>7}"
    f"{'sets':>6}{'conf>=.9':>10}{'unnamed':>9}{'live':>6}{'us':>6}{'ms':>7}"
)


def line(name: str, f: Figures) -> str:
    """Return one line of the table."""
    sure = f"{f.confident_right}/{f.confident}" if f.confident else "-"
    live = "-" if f.live is None else f"{f.live:.3f}"
    return (
        f"{name:26}{f.f1:6.3f}{f.macro:7.3f}{f.energy:8.3f}{f.meals:7.3f}"
        f"{100 * f.meal_error:6.1f}%{100 * f.worst_meal:6.0f}%{f.right_sets:6.2f}"
        f"{sure:>10}{100 * f.unnamed_on_appliances:8.1f}%{live:>6}"
        f"{f.per_reading_us:6.1f}{f.worst_ms:7.1f}"
    )


def mean(all_figures: Sequence[Figures]) -> Figures:
    """Return the mean of several boats, worst meal and step the worst of all."""
    count = len(all_figures)

    def of(value: Callable[[Figures], float]) -> float:
        return sum(value(f) for f in all_figures) / count

    lives = [f.live for f in all_figures if f.live is not None]
    return Figures(
        f1=of(lambda f: f.f1),
        macro=of(lambda f: f.macro),
        energy=of(lambda f: f.energy),
        meals=of(lambda f: f.meals),
        meal_error=of(lambda f: f.meal_error),
        worst_meal=max(f.worst_meal for f in all_figures),
        right_sets=of(lambda f: f.right_sets),
        confident=sum(f.confident for f in all_figures),
        confident_right=sum(f.confident_right for f in all_figures),
        unnamed_on_appliances=of(lambda f: f.unnamed_on_appliances),
        live=sum(lives) / len(lives) if lives else None,
        per_reading_us=of(lambda f: f.per_reading_us),
        worst_ms=max(f.worst_ms for f in all_figures),
    )


def boats(given: argparse.Namespace, report: dict[str, Any]) -> None:
    """Judge the simulated boats."""
    for case in CASES:
        if given.case and given.case not in case.name:
            continue
        print(f"\n{case.name}\n{HEADER}")
        ours: list[Figures] = []
        plain: list[Figures] = []
        for seed in case.seeds[: given.boats]:
            boat, samples, truth = simulated(case, seed, given.days)
            cells = len(next(iter(truth.grid.values())))
            recording, _, cost = infer(
                boat, samples, truth.start_s, cells, live=given.live
            )
            runs = [
                RunFact(r.appliance, r.start_s, r.end_s, r.energy_wh)
                for r in truth.runs
            ]
            figures = of_recording(boat, runs, dict(truth.grid), recording, cost)
            figures.unnamed_on_appliances = unnamed_share(truth, recording)
            ours.append(figures)
            plain.append(baseline(boat, samples, runs, dict(truth.grid), truth.start_s))
            print(line(f"  seed {seed}", figures), flush=True)
            print(
                "    "
                + "  ".join(f"{n} {v:.2f}" for n, v in figures.per_appliance.items())
            )
            report[f"{case.name} {seed}"] = _plain(figures)
        print(line("  mean", mean(ours)))
        print(line("  worst by F1", min(ours, key=lambda f: f.f1)))
        print(line("  step pairing, mean", mean(plain)))
        report[f"{case.name} mean"] = _plain(mean(ours))
        report[f"{case.name} step pairing"] = _plain(mean(plain))


def _plain(figures: Figures) -> dict[str, Any]:
    return {name: getattr(figures, name) for name in Figures.__slots__}


def main(argv: Sequence[str] | None = None) -> int:
    """Run the cases asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--case", help="only cases whose name contains this")
    parser.add_argument("--days", type=float, default=5.0)
    parser.add_argument("--boats", type=int, help="at most so many per case")
    parser.add_argument(
        "--live", action="store_true", help="also judge what is shown live"
    )
    parser.add_argument("--real", type=Path, help="folder of a real installation")
    parser.add_argument("--house", type=Path, help="folder of the one-minute house")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    report: dict[str, Any] = {}
    if given.real is not None:
        recorded = installation(given.real)
        recording, _, cost = infer(
            recorded.boat, recorded.samples, recorded.start_s, recorded.cells
        )
        runs = [RunFact(*row) for row in recorded.runs]
        figures = of_recording(recorded.boat, runs, recorded.grid, recording, cost)
        plain = baseline(
            recorded.boat, recorded.samples, runs, recorded.grid, recorded.start_s
        )
        print(f"\nreal installation\n{HEADER}")
        print(line("  inference", figures))
        print(
            "    " + "  ".join(f"{n} {v:.2f}" for n, v in figures.per_appliance.items())
        )
        print(line("  step pairing", plain))
        report["real"] = _plain(figures)
        report["real step pairing"] = _plain(plain)
    if given.house is not None:
        for month in ("06", "07"):
            scores = house(given.house, month)
            print(f"\none-minute house, 2013-{month}: F1 per minute")
            print("  " + "  ".join(f"{n} {v:.3f}" for n, v in scores.items()))
            report[f"house {month}"] = scores
    boats(given, report)
    if given.json is not None:
        given.json.write_text(json.dumps(report, indent=1))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
