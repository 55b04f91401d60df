"""Is what is shown and announced at the moment true?

    script/bench live [--days 3] [--boats 8] [--seed 7101] [--real FOLDER] [--jobs 1]

Simulated boats of differing meters, both with and without a meter at the inverter, and,
where its folder is given, a real installation (`boat.yaml`, `history.csv.gz`,
`truth.json.gz`). Each history is replayed at the pace of the platform, and what was shown
and told is judged as in `live_score.py`. Nothing is left out: a boat is judged from its
first day on.
"""

import argparse
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
import csv
from datetime import datetime
import gzip
import json
from pathlib import Path
import time
from typing import Any, Final

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_file import read_boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event, SpanSettled
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.replay.shown_rows import HeardTable, ShownTable
from custom_components.galley_loads.core.replay.turns import Turns
from demo.simulator import SimOptions, random_boat, simulate
from script.benches.boats import UNKIND
from script.benches.live_score import LiveFigures, LiveTruth, Row, TrueRunSpan, judge
from script.benches.metrics import Span
from script.benches.recording import Recording

_DC_ONLY: Final = {k: v for k, v in UNKIND.items() if k != "fridge_on_ac"}

WORLDS: Final[tuple[tuple[str, dict[str, Any]], ...]] = (
    ("AC, 1 s", UNKIND | {"period_s": 1.0}),
    ("AC, 5 s", UNKIND | {"period_s": 5.0}),
    ("AC, 2 s, 10 W", UNKIND | {"quantum_w": 10.0}),
    ("bank's side only", _DC_ONLY | {"dc_only": True}),
)

COLUMNS: Final = (
    # Heading, figure, format.
    ("settled", "settled running", "{:.3f}"),
    ("running", "running", "{:.3f}"),
    ("settled W", "settled power", "{:.3f}"),
    ("power", "power", "{:.3f}"),
    ("as backgr.", "as background", "{:.1%}"),
    ("as unrec.", "as unrecognised", "{:.1%}"),
    ("starts/run", "starts per run", "{:.2f}"),
    ("started", "started true", "{:.3f}"),
    ("announced", "announced", "{:.3f}"),
    ("half s", "started half", "{:.0f}"),
    ("9 in 10", "started nine in ten", "{:.0f}"),
    ("finished", "finished true", "{:.3f}"),
    ("half s", "finished half", "{:.0f}"),
    ("9 in 10", "finished nine in ten", "{:.0f}"),
)


def judged(boat: Boat, readings: Iterable[Reading], truth: LiveTruth) -> LiveFigures:
    """Let a crew watch a history and judge what it saw and heard."""
    rows: list[Row] = []
    told: list[tuple[float, str, str]] = []
    settled = Recording(truth.start_s, truth.cells, truth.grid)
    shown = ShownTable(lambda row: rows.append(tuple(row)))
    heard = HeardTable(boat, lambda row: told.append((row.at_s, row.kind, row.subject)))

    def look(at_s: float, view: LiveView) -> None:
        shown.look(at_s, view)
        heard.look(at_s, view)

    def settle(at_s: float, events: list[Event]) -> None:
        keep(events)
        heard.settle(at_s, events)

    def keep(events: Iterable[Event]) -> None:
        for event in events:
            if isinstance(event, SpanSettled):
                settled.add(event.segment)

    engine = Engine(boat)
    turns = Turns(engine, look, settle)
    turns.feed_all(readings)
    turns.finish()
    keep(engine.finish())
    spans: dict[str, list[Span]] = settled.spans()
    return judge(truth, rows, told, spans, settled.grid)


def simulated(seed: int, days: float, options: dict[str, Any]) -> LiveFigures:
    """Return the figures of one simulated boat."""
    world = SimOptions(days=days, **options)
    result = simulate(random_boat(seed, world), seed, world)
    truth = LiveTruth(
        result.truth.start_s,
        [TrueRunSpan(r.appliance, r.start_s, r.end_s) for r in result.truth.runs],
        result.truth.grid,
    )
    boat = parse_boat(dict(result.boat.description))
    return judged(boat, (Reading(*row) for row in result.rows()), truth)


def recorded(folder: Path) -> LiveFigures:
    """Return the figures of a real installation."""
    with gzip.open(folder / "truth.json.gz", "rt") as file:
        told = json.load(file)
    truth = LiveTruth(
        _seconds(told["start"]),
        [
            TrueRunSpan(r["appliance"], _seconds(r["start"]), _seconds(r["end"]))
            for r in told["runs"]
        ],
        told["grid"],
    )

    def readings() -> Iterator[Reading]:
        with gzip.open(folder / "history.csv.gz", "rt") as file:
            for row in csv.DictReader(file):
                at_s = _seconds(row["last_changed"])
                yield Reading(row["entity_id"], row["state"], at_s)

    return judged(read_boat(folder / "boat.yaml"), readings(), truth)


def _seconds(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def _show(name: str, values: dict[str, float]) -> None:
    cells = [f"{form.format(values[key]):>10}" for _, key, form in COLUMNS]
    print(f"{name:24}", *cells, sep="", flush=True)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its figures."""
    parser = argparse.ArgumentParser(prog="script/bench live", description=__doc__)
    parser.add_argument("--days", type=float, default=3.0)
    parser.add_argument("--boats", type=int, default=8)
    parser.add_argument("--seed", type=int, default=7101)
    parser.add_argument("--real", type=Path, action="append", default=[])
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    print(f"{'':24}", *(f"{heading:>10}" for heading, _, _ in COLUMNS), sep="")
    began = time.perf_counter()
    all_values: dict[str, dict[str, float]] = {}
    total = LiveFigures()
    with ProcessPoolExecutor(given.jobs) as pool:
        jobs = [
            (
                f"{WORLDS[index % len(WORLDS)][0]} ({given.seed + index})",
                pool.submit(
                    simulated,
                    given.seed + index,
                    given.days,
                    WORLDS[index % len(WORLDS)][1],
                ),
            )
            for index in range(given.boats)
        ]
        jobs += [(folder.name, pool.submit(recorded, folder)) for folder in given.real]
        for number, (name, job) in enumerate(jobs):
            figures = job.result()
            all_values[name] = figures.values()
            _show(name, all_values[name])
            if number < given.boats:
                total.add(figures)
    if given.boats:
        _summary(all_values, total, given.boats)
    print(f"{time.perf_counter() - began:.0f} s")
    if given.json is not None:
        given.json.write_text(json.dumps(all_values, indent=1))
    return 0


def _summary(
    all_values: dict[str, dict[str, float]], total: LiveFigures, boats: int
) -> None:
    """Print the mean of the simulated boats and all their events together."""
    simulated_boats = list(all_values.values())[:boats]
    mean = {
        key: sum(values[key] for values in simulated_boats) / boats
        for key in simulated_boats[0]
    }
    _show("mean of boats", mean)
    _show("all together", total.values())


if __name__ == "__main__":
    raise SystemExit(main())
