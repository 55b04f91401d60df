"""Segments of activity become runs.

A run is open as long as segments carry it and ends with the last that does. A short hole in
the measurement carries nothing and ends nothing: whether a run goes on, what comes after it
tells. Runs that settle come out in the order in which they end. A run with no energy is
none: whoever claimed it, the load shows that nothing flowed.
"""

from collections.abc import Iterable
from copy import deepcopy
from dataclasses import dataclass, field

from ..inference.model.activity import Activity, PhaseSpan, Run, RunKey, Segment
from ..metering.load_sample import LONGEST_BRIDGE_S
from ..stateful import Row, from_row, row
from .account import Flow, Share


@dataclass(slots=True)
class OpenRun:
    """A run whose end is not known yet."""

    appliance: str
    start_s: float
    end_s: float
    share: Share = field(default_factory=Share)
    peak_w: float = 0.0
    confidence: float = 0.0
    phases: list[PhaseSpan] = field(default_factory=list)

    def extend(self, segment: Segment, activity: Activity, share: Share | None) -> None:
        """Take in one more segment."""
        self.end_s = segment.end_s
        self.peak_w = max(self.peak_w, activity.power_w)
        self.confidence = activity.confidence
        if share is not None:
            self.share.add(share)
        last = self.phases[-1] if self.phases else None
        if last is not None and last.phase is activity.phase:
            self.phases[-1] = PhaseSpan(last.phase, last.start_s, segment.end_s)
        else:
            self.phases.append(
                PhaseSpan(activity.phase, segment.start_s, segment.end_s)
            )

    def as_run(self) -> Run:
        """Return the run as it stands."""
        return Run(
            self.appliance,
            self.start_s,
            self.end_s,
            self.share.energy_wh,
            self.peak_w,
            self.confidence,
            tuple(self.phases),
            self.share.bank_ah,
            self.share.drawn_ah,
            self.share.solar_wh,
        )


def _settled(ended: Iterable[OpenRun]) -> list[Run]:
    """Return what took any energy of the runs that ended, in the order of their ends."""
    runs = [run.as_run() for run in ended if run.share.energy_wh > 0.0]
    return sorted(runs, key=lambda run: (run.end_s, run.start_s, run.appliance))


def _is_short_hole(segment: Segment, flow: Flow) -> bool:
    duration_s = segment.end_s - segment.start_s
    return duration_s <= LONGEST_BRIDGE_S and flow.unmeasured_s >= 0.99 * duration_s


class RunBuilder:
    """The runs that are going on."""

    def __init__(self) -> None:
        """Start with nothing running."""
        self._open: dict[RunKey, OpenRun] = {}

    @property
    def open_runs(self) -> Iterable[OpenRun]:
        """The runs that have not ended."""
        return self._open.values()

    def add(self, segment: Segment, flow: Flow) -> list[Run]:
        """Take in one segment; return the runs that ended with the one before."""
        present = {activity.run for activity in segment.activities}
        ended: list[OpenRun] = []
        if not _is_short_hole(segment, flow):
            gone = [key for key in self._open if key not in present]
            ended = [self._open.pop(key) for key in gone]
        for activity in segment.activities:
            key = activity.run
            run = self._open.get(key)
            if run is None:
                run = OpenRun(activity.appliance, segment.start_s, segment.end_s)
                self._open[key] = run
            run.extend(segment, activity, flow.runs.get(key))
        return _settled(ended)

    def finish(self) -> list[Run]:
        """End every run that is open."""
        ended = _settled(self._open.values())
        self._open.clear()
        return ended

    def copy(self) -> RunBuilder:
        """Return a book that can be written in without touching this one."""
        twin = RunBuilder()
        twin._open = deepcopy(self._open)
        return twin

    def snapshot(self) -> list[tuple[float, Row]]:
        """Return the state as plain data."""
        return [
            (run_start_s, row(run.as_run()))
            for (_, run_start_s), run in self._open.items()
        ]

    def restore(self, state: Iterable[tuple[float, Row]]) -> None:
        """Take a state that `snapshot` gave."""
        self._open = {}
        for run_start_s, values in state:
            run = from_row(Run, values)
            self._open[run.appliance, run_start_s] = OpenRun(
                run.appliance,
                run.start_s,
                run.end_s,
                Share(run.energy_wh, run.bank_ah, run.drawn_ah, run.solar_wh),
                run.peak_w,
                run.confidence,
                list(run.phases),
            )
