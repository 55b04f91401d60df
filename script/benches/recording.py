"""What the inference said about a recording, as spans, series and runs."""

from array import array
from collections.abc import Iterable, Iterator
from copy import replace
from dataclasses import dataclass
import gc
from time import process_time, thread_time

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.activity import Segment
from custom_components.galley_loads.core.metering.load_sample import LoadSample

STEP_S = 10.0
LIVE_LAG_S = 60.0
LIVE_EVERY_S = 30.0


def with_minutes(samples: Iterable[LoadSample]) -> Iterator[LoadSample]:
    """Repeat the last sample at every full minute, as the engine does."""
    last: LoadSample | None = None
    next_minute = 0.0
    for sample in samples:
        if last is not None:
            while next_minute < sample.at_s:
                yield replace(last, at_s=next_minute)
                next_minute += 60.0
        if sample.at_s >= next_minute:
            next_minute = (sample.at_s // 60.0 + 1.0) * 60.0
        last = sample
        yield sample


@dataclass(slots=True)
class SaidRun:
    """One run as it was told."""

    appliance: str
    start_s: float
    end_s: float
    energy_wh: float
    confidence: float


class Recording:
    """Segments gathered into runs and mean power per ten seconds."""

    def __init__(self, start_s: float, cells: int, names: Iterable[str]) -> None:
        """Prepare empty series."""
        self.start_s = start_s
        self.cells = cells
        self.grid = {name: array("d", bytes(8 * cells)) for name in names}
        self.unnamed = array("d", bytes(8 * cells))
        self.runs: list[SaidRun] = []
        self.live: dict[str, list[tuple[float, float]]] = {}
        self._open: dict[tuple[str, float], SaidRun] = {}

    def add(self, segment: Segment) -> None:
        """Take one settled segment."""
        present = {(a.appliance, a.run_start_s) for a in segment.activities}
        for key in [key for key in self._open if key not in present]:
            del self._open[key]
        for a in segment.activities:
            self._spread(self.grid[a.appliance], segment, a.power_w)
            key = (a.appliance, a.run_start_s)
            run = self._open.get(key)
            if run is None:
                run = SaidRun(
                    a.appliance, segment.start_s, segment.end_s, 0.0, a.confidence
                )
                self._open[key] = run
                self.runs.append(run)
            run.end_s = segment.end_s
            run.energy_wh += a.power_w * (segment.end_s - segment.start_s) / 3600.0
            run.confidence = a.confidence
        if segment.unnamed_w:
            self._spread(self.unnamed, segment, segment.unnamed_w)

    def _spread(self, series: array[float], segment: Segment, power_w: float) -> None:
        if power_w == 0.0:
            return
        start = (segment.start_s - self.start_s) / STEP_S
        end = (segment.end_s - self.start_s) / STEP_S
        cell = max(0, int(start))
        while cell < end and cell < self.cells:
            series[cell] += power_w * (min(end, cell + 1) - max(start, cell))
            cell += 1

    def show(self, shown: list[Segment], at_s: float) -> None:
        """Note what is shown of the moment a minute ago."""
        then_s = at_s - LIVE_LAG_S
        for segment in reversed(shown):
            if segment.start_s <= then_s < segment.end_s:
                for activity in segment.activities:
                    self.live.setdefault(activity.appliance, []).append(
                        (then_s, then_s + LIVE_EVERY_S)
                    )
                return

    def spans(self) -> dict[str, list[tuple[float, float]]]:
        """Return running times per appliance."""
        result: dict[str, list[tuple[float, float]]] = {name: [] for name in self.grid}
        for run in self.runs:
            result[run.appliance].append((run.start_s, run.end_s))
        return result


@dataclass(slots=True)
class Cost:
    """What inference cost."""

    readings: int = 0
    total_s: float = 0.0
    worst_s: float = 0.0

    @property
    def per_reading_us(self) -> float:
        """Mean time per reading in microseconds."""
        return 1e6 * self.total_s / max(1, self.readings)


def infer(
    boat: Boat,
    samples: list[LoadSample],
    start_s: float,
    cells: int,
    *,
    live: bool = False,
) -> tuple[Recording, Inference, Cost]:
    """Run inference over samples; `live` also notes what is shown every half minute."""
    inference = Inference(boat)
    recording = Recording(start_s, cells, [a.name for a in boat.appliances])
    cost = Cost(readings=len(samples))
    observe = inference.observe
    gc.collect()
    gc.freeze()
    next_look_s = 0.0
    begun = process_time()
    for sample in samples:
        before = thread_time()
        observe(sample)
        took = thread_time() - before
        cost.worst_s = max(cost.worst_s, took)
        for segment in inference.take_settled():
            recording.add(segment)
        if live and sample.at_s >= next_look_s:
            next_look_s = sample.at_s // LIVE_EVERY_S * LIVE_EVERY_S + LIVE_EVERY_S
            recording.show(inference.tentative(), sample.at_s)
    cost.total_s = process_time() - begun
    inference.finish()
    for segment in inference.take_settled():
        recording.add(segment)
    return recording, inference, cost
