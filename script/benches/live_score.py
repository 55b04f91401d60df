"""How true is what is shown and announced at the moment? Scores of the two live tables.

Everything is judged on what a crew would have seen or heard at a time: rows as
`script/replay --live --news` writes them, against the true runs and the true mean power
per ten seconds.

* Power right: 1 - sum |shown - true| / (2 sum true) over two-minute means (the form of
  Kolter and Johnson's estimated accuracy, see `metrics.py`), over the spans of two minutes
  in which some appliance truly runs or is shown running. Standby that is shown counts as
  wrong there.
* Shown as background, as being recognised: of the appliances' true energy in those spans,
  what no appliance was shown with. As much of it as was shown as unrecognised was being
  recognised; of the rest, as much as the background was shown above what it was in the
  last span in which nothing ran. What remains the meter had not shown yet.
* Running: F1 of running time at the one lag, up to a minute, that suits best.
* `started` is true if the appliance ran then or had ended within the last minute;
  `finished` if a true run of it ended since its start was told.
"""

from array import array
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Final

from script.benches.metrics import Span, f1, length, merged, overlap

CELL_S: Final = 10.0
CELLS: Final = 12
"""Cells of ten seconds in a span of two minutes."""
LAGS_S: Final = tuple(range(0, 65, 5))
EARLY_S: Final = 60.0
LEAST_RUN_S: Final = 60.0
BACKGROUND: Final = "background"
UNRECOGNISED: Final = "unrecognised"


@dataclass(frozen=True, slots=True)
class TrueRunSpan:
    """One true run."""

    appliance: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class LiveTruth:
    """What truly ran: runs, and mean W per ten seconds by appliance from `start_s` on."""

    start_s: float
    runs: Sequence[TrueRunSpan]
    grid: Mapping[str, Sequence[float]]

    @property
    def cells(self) -> int:
        """How many cells of ten seconds there are."""
        return len(next(iter(self.grid.values())))


type Row = tuple[float, str, float | None, bool]
"""A row of LIVE.csv: Unix time, name, W, whether it runs."""

type Told = tuple[float, str, str]
"""A row of NEWS.csv: Unix time, kind, subject."""


@dataclass(slots=True)
class LiveFigures:
    """What was shown and told, in sums that add up over boats."""

    true_ws: float = 0.0
    wrong_ws: float = 0.0
    background_ws: float = 0.0
    unrecognised_ws: float = 0.0
    hits: dict[int, list[float]] = field(default_factory=lambda: defaultdict(_zeros))
    settled: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    settled_wrong_ws: float = 0.0
    starts: int = 0
    runs: int = 0
    told: Counter[str] = field(default_factory=Counter)
    true: Counter[str] = field(default_factory=Counter)
    long_runs: int = 0
    announced: int = 0
    late_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def add(self, other: LiveFigures) -> None:
        """Add another boat's."""
        for name in (
            *("true_ws", "wrong_ws", "background_ws", "unrecognised_ws"),
            *("settled_wrong_ws", "starts", "runs", "long_runs", "announced"),
        ):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for lag, counts in other.hits.items():
            self.hits[lag] = [
                a + b for a, b in zip(self.hits[lag], counts, strict=True)
            ]
        self.settled = [a + b for a, b in zip(self.settled, other.settled, strict=True)]
        self.told.update(other.told)
        self.true.update(other.true)
        for kind, late in other.late_s.items():
            self.late_s[kind] += late

    def values(self) -> dict[str, float]:
        """Return the figures; shares 0 to 1, lateness in s."""
        true_ws = max(self.true_ws, 1e-9)
        found = {
            "power": 1.0 - self.wrong_ws / (2.0 * true_ws),
            "settled power": 1.0 - self.settled_wrong_ws / (2.0 * true_ws),
            "as background": self.background_ws / true_ws,
            "as unrecognised": self.unrecognised_ws / true_ws,
            "running": max((f1(*c) for c in self.hits.values()), default=1.0),
            "settled running": f1(*self.settled),
            "starts per run": self.starts / max(self.runs, 1),
            "announced": self.announced / max(self.long_runs, 1),
        }
        for kind in ("started", "finished"):
            found[f"{kind} true"] = self.true[kind] / max(self.told[kind], 1)
            late = sorted(self.late_s[kind])
            for name, share in (("half", 0.5), ("nine in ten", 0.9)):
                found[f"{kind} {name}"] = (
                    late[int(share * (len(late) - 1))] if late else float("nan")
                )
        return found


def _zeros() -> list[float]:
    return [0.0, 0.0, 0.0]


def judge(
    truth: LiveTruth,
    live: Iterable[Row],
    news: Iterable[Told],
    settled: Mapping[str, Sequence[Span]],
    settled_grid: Mapping[str, Sequence[float]],
) -> LiveFigures:
    """Hold what was shown, told and settled against what truly was."""
    figures = LiveFigures()
    power, running = _series(truth, live)
    true_spans = {
        name: merged(
            (run.start_s, run.end_s) for run in truth.runs if run.appliance == name
        )
        for name in truth.grid
    }
    figures.runs = len(truth.runs)
    figures.starts = sum(len(running.get(name, ())) for name in truth.grid)
    _judge_running(figures, true_spans, running, settled)
    _judge_power(figures, truth, power, running, true_spans, settled_grid)
    _judge_news(figures, truth, list(news))
    return figures


def _series(
    truth: LiveTruth, rows: Iterable[Row]
) -> tuple[dict[str, array[float]], dict[str, list[Span]]]:
    """Return what was shown: mean W per cell and spans of running, by name."""
    end_s = truth.start_s + truth.cells * CELL_S
    names = (*truth.grid, BACKGROUND, UNRECOGNISED)
    power = {name: array("d", bytes(8 * truth.cells)) for name in names}
    spans: dict[str, list[Span]] = {name: [] for name in names}
    held: dict[str, tuple[float, float]] = {}
    since: dict[str, float] = {}
    for at_s, name, power_w, runs in rows:
        from_s, w = held.get(name, (at_s, 0.0))
        _spread(power[name], truth.start_s, from_s, at_s, w)
        held[name] = at_s, power_w or 0.0
        if runs:
            since.setdefault(name, at_s)
        elif name in since:
            spans[name].append((since.pop(name), at_s))
    for name, (from_s, w) in held.items():
        _spread(power[name], truth.start_s, from_s, end_s, w)
    for name, from_s in since.items():
        spans[name].append((from_s, end_s))
    return power, spans


def _spread(
    series: array[float], start_s: float, from_s: float, to_s: float, w: float
) -> None:
    """Add a constant power to the mean W per cell."""
    first, last = (from_s - start_s) / CELL_S, (to_s - start_s) / CELL_S
    cell = max(0, int(first))
    while cell < last and cell < len(series):
        series[cell] += w * (min(last, cell + 1) - max(first, cell))
        cell += 1


def _judge_running(
    figures: LiveFigures,
    true_spans: Mapping[str, Sequence[Span]],
    shown: Mapping[str, Sequence[Span]],
    settled: Mapping[str, Sequence[Span]],
) -> None:
    def count(said: Mapping[str, Sequence[Span]], lag_s: float) -> list[float]:
        counts = _zeros()
        for name, true in true_spans.items():
            moved = merged((a - lag_s, b - lag_s) for a, b in said.get(name, ()))
            hit = overlap(true, moved)
            for number, value in enumerate(
                (hit, length(moved) - hit, length(true) - hit)
            ):
                counts[number] += value
        return counts

    for lag_s in LAGS_S:
        figures.hits[lag_s] = count(shown, lag_s)
    figures.settled = count(settled, 0.0)


def _judge_power(
    figures: LiveFigures,
    truth: LiveTruth,
    power: Mapping[str, Sequence[float]],
    running: Mapping[str, Sequence[Span]],
    true_spans: Mapping[str, Sequence[Span]],
    settled_grid: Mapping[str, Sequence[float]],
) -> None:
    busy = {
        number
        for name in truth.grid
        for spans in (true_spans[name], running[name])
        for from_s, to_s in spans
        for number in range(
            int((from_s - truth.start_s) / CELL_S / CELLS),
            int((to_s - truth.start_s) / CELL_S / CELLS) + 1,
        )
    }
    rest_ws = inf
    for number in range(truth.cells // CELLS):
        part = slice(number * CELLS, (number + 1) * CELLS)
        background_ws = sum(power[BACKGROUND][part]) * CELL_S
        if number not in busy:
            rest_ws = background_ws
            continue
        true_ws = said_ws = 0.0
        for name, series in truth.grid.items():
            true, said = sum(series[part]) * CELL_S, sum(power[name][part]) * CELL_S
            figures.wrong_ws += abs(said - true)
            figures.settled_wrong_ws += abs(
                sum(settled_grid[name][part]) * CELL_S - true
            )
            true_ws += true
            said_ws += said
        figures.true_ws += true_ws
        missing_ws = max(0.0, true_ws - said_ws)
        unnamed_ws = min(missing_ws, sum(power[UNRECOGNISED][part]) * CELL_S)
        figures.unrecognised_ws += unnamed_ws
        above_ws = max(0.0, background_ws - rest_ws)
        figures.background_ws += min(missing_ws - unnamed_ws, above_ws)


def _judge_news(figures: LiveFigures, truth: LiveTruth, news: Sequence[Told]) -> None:
    begun: dict[str, float] = {}
    for at_s, kind, subject in news:
        runs = [run for run in truth.runs if run.appliance == subject]
        if kind == "started":
            begun[subject] = at_s
            true = [r for r in runs if r.start_s <= at_s <= r.end_s + EARLY_S]
            late = [at_s - r.start_s for r in true]
        elif kind == "finished":
            since_s = begun.get(subject, 0.0)
            true = [r for r in runs if since_s <= r.end_s + EARLY_S and r.end_s <= at_s]
            late = [at_s - r.end_s for r in true]
        else:
            continue
        figures.told[kind] += 1
        figures.true[kind] += bool(true)
        if late:
            figures.late_s[kind].append(late[-1])
    for run in truth.runs:
        if run.end_s - run.start_s < LEAST_RUN_S:
            continue
        figures.long_runs += 1
        figures.announced += any(
            kind == "started"
            and subject == run.appliance
            and run.start_s - EARLY_S <= at_s <= run.end_s + EARLY_S
            for at_s, kind, subject in news
        )
