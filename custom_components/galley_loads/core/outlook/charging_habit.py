"""How the crew charges the bank by other means than the sun: when, how long, at what charge.

Two habits are told apart. By need: the engine is started when the bank has fallen to where
the crew does not like it lower. By the clock: it runs at about the same hour, daily or
every few days (motoring, an hour of engine for the water), whatever the charge.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from statistics import median
from typing import Final, TypedDict

from ..stateful import Row, from_row, row
from .habits import boat_time

_RUNS_KEPT: Final = 24
_QUARTER_H: Final = 0.25
_LEAST_W_SHARE: Final = 0.02
_DAY_S: Final = 86_400.0
_RECENT_DAYS: Final = 28.0
_LEAST_RUNS: Final = 3
_LONGEST_HOURS: Final = 6.0
"""Beyond, it is shore power or wind and no engine that somebody started."""

_SAME_HOUR: Final = 1.5
_SAME_HOUR_SHARE: Final = 0.7
_NEED_SPREAD_POINTS: Final = 8.0
_NEED_SHARE: Final = 0.7


@dataclass(frozen=True, slots=True)
class ChargingRun:
    """Other charging without a break: Unix time, hours, mean W, and the charge before."""

    start_s: float
    hours: float
    power_w: float
    soc: float


@dataclass(frozen=True, slots=True)
class NeedHabit:
    """The crew charges when the bank is low: the charges (percent) and runs of the past."""

    runs: tuple[ChargingRun, ...]


@dataclass(frozen=True, slots=True)
class ClockHabit:
    """The crew charges about an hour of the day: how often per day, and runs of the past."""

    hour: float
    per_day: float
    runs: tuple[ChargingRun, ...]


class ChargingLogState(TypedDict):
    """What `ChargingLog` saves."""

    runs: list[Row]
    open: list[float] | None
    soc: float | None


class ChargingLog:
    """Collects runs of other charging from quarter hours."""

    def __init__(self, capacity_wh: float) -> None:
        """Start with none; what charges less than a trickle of the bank is no run."""
        self._least_w = _LEAST_W_SHARE * capacity_wh
        self.runs: tuple[ChargingRun, ...] = ()
        # Start, hours, Wh and charge before of the run in progress.
        self._open: list[float] | None = None
        self._soc: float | None = None

    def observe(self, start_s: float, other_w: float | None, soc: float | None) -> None:
        """Take a quarter hour, and the charge in percent at its end."""
        if other_w is not None and other_w >= self._least_w:
            if self._open is None and self._soc is not None:
                self._open = [start_s, 0.0, 0.0, self._soc]
            if self._open is not None:
                self._open[1] += _QUARTER_H
                self._open[2] += other_w * _QUARTER_H
        elif self._open is not None:
            at_s, hours, energy_wh, before = self._open
            run = ChargingRun(at_s, hours, round(energy_wh / hours, 1), before)
            self.runs = (*self.runs, run)[-_RUNS_KEPT:]
            self._open = None
        if soc is not None:
            self._soc = soc

    def start_over(self) -> None:
        """Leave the run in progress: the clock was set."""
        self._open = None

    def snapshot(self) -> ChargingLogState:
        """Return the state, JSON-able."""
        return {
            "runs": [row(run) for run in self.runs],
            "open": None if self._open is None else list(self._open),
            "soc": self._soc,
        }

    def restore(self, state: ChargingLogState) -> None:
        """Take a state that `snapshot` gave."""
        self.runs = tuple(from_row(ChargingRun, one) for one in state["runs"])
        self._open = None if state["open"] is None else list(state["open"])
        self._soc = state["soc"]


def charging_habits(
    runs: Sequence[ChargingRun], zone: tzinfo, at_s: float, first_s: float | None
) -> tuple[ClockHabit | None, NeedHabit | None]:
    """Return the crew's habits by the clock and by need, None for one that is not seen.

    Args:
        runs: in order of time.
        zone: the boat's clock.
        at_s: the present.
        first_s: when the history began.
    """
    recent = [
        run
        for run in runs
        if run.start_s > at_s - _RECENT_DAYS * _DAY_S and run.hours <= _LONGEST_HOURS
    ]
    clock = _by_clock(recent, zone, at_s, first_s)
    if clock is not None:
        own = set(clock.runs)
        recent = [run for run in recent if run not in own]
    return clock, _by_need(recent)


def _by_clock(
    recent: Sequence[ChargingRun], zone: tzinfo, at_s: float, first_s: float | None
) -> ClockHabit | None:
    if len(recent) < _LEAST_RUNS or first_s is None:
        return None
    hours = [_hour(run.start_s, zone) for run in recent]
    middle = median(hours)
    same = [
        run
        for run, hour in zip(recent, hours, strict=True)
        if abs(hour - middle) <= _SAME_HOUR
    ]
    if len(same) < max(_SAME_HOUR_SHARE * len(recent), _LEAST_RUNS):
        return None
    lows = [run.soc for run in same]
    if max(lows) - min(lows) < _NEED_SPREAD_POINTS:
        # At one charge as well as at one hour: it is the charge that calls for it.
        return None
    since_s = max(first_s, recent[0].start_s - _DAY_S, at_s - _RECENT_DAYS * _DAY_S)
    days = max((at_s - since_s) / _DAY_S, 1.0)
    return ClockHabit(middle, min(len(same) / days, 1.0), tuple(same))


def _by_need(recent: Sequence[ChargingRun]) -> NeedHabit | None:
    if len(recent) < _LEAST_RUNS - 1:
        return None
    middle = median(run.soc for run in recent)
    near = tuple(r for r in recent if abs(r.soc - middle) <= _NEED_SPREAD_POINTS)
    return NeedHabit(near) if len(near) >= _NEED_SHARE * len(recent) else None


def _hour(at_s: float, zone: tzinfo) -> float:
    local = boat_time(at_s, zone)
    return local.hour + local.minute / 60.0
