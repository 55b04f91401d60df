"""Standby learnt from the small steps before and after an appliance's runs.

A cook who switches a hob on at the wall before cooking and off after it leaves two small
equal steps around the run. A fridge leaves such steps too, but at any time of day. So the
steps seen near an appliance's runs count as its standby only when the same size comes
back at most of its runs and is far rarer at other times.
"""

from collections import deque
from collections.abc import Collection, Iterator
from typing import Final, NamedTuple, TypedDict

from ..stateful import Row, from_row, row
from .relay_steps import MOST_STANDBY_W
from .small_steps import LoadStep

LEAST_STEP_W: Final = 4.0
_BEFORE_S: Final = 600.0
_AFTER_S: Final = 1200.0
_LATE_S: Final = 120.0
"""A run may be noticed this much after its start."""
_RUNS_KEPT: Final = 16
_RUNS_NEEDED: Final = 4
_SHARE_NEEDED: Final = 0.6
_ABOVE_CHANCE: Final = 3.0
_BIN_W: Final = 2.0
_BINS: Final = int(MOST_STANDBY_W / _BIN_W) + 1
_FADE_S: Final = 7 * 86400.0
_MOST_AT_ONCE_S: Final = 300.0
_STEPS_PER_RUN: Final = 6
_CHANGES_KEPT: Final = 64


def alike(one_w: float, other_w: float) -> bool:
    """Return whether two steps may be the same appliance's."""
    return abs(one_w - other_w) <= max(2.0, 0.12 * max(one_w, other_w))


class _Common(NamedTuple):
    """A size of step that comes back at most of an appliance's runs."""

    share: float
    mean_w: float
    centre_w: float


def _common_sizes(runs: Collection[list[float]]) -> Iterator[_Common]:
    """Yield the sizes that most of these runs have a step of."""
    for centre_w in {size for sizes in runs for size in sizes}:
        members = [
            next((size for size in sizes if alike(size, centre_w)), None)
            for sizes in runs
        ]
        hits = [size for size in members if size is not None]
        share = len(hits) / len(runs)
        if share >= _SHARE_NEEDED:
            yield _Common(share, sum(hits) / len(hits), centre_w)


class SwitchStepsState(TypedDict):
    """What `SwitchSteps` saves."""

    recent: list[Row]
    running: list[str]
    session: str | None
    ended: tuple[str, float] | None
    near: dict[str, list[list[float]]]
    far: list[float]
    far_s: float
    last_s: float | None
    live: dict[str, list[tuple[float, bool]]]


class SwitchSteps:
    """Collects steps around runs and tells which appliance they belong to."""

    def __init__(self, names: Collection[str]) -> None:
        """Watch the appliances named."""
        self._names = frozenset(names)
        self._recent: deque[LoadStep] = deque(maxlen=32)
        self._running: frozenset[str] = frozenset()
        self._session: str | None = None
        self._ended: tuple[str, float] | None = None
        self._near: dict[str, deque[list[float]]] = {}
        # What comes back at most runs; asked for every minute, changed by a run.
        self._common: dict[str, list[_Common]] = {}
        self._far = [0.0] * _BINS
        self._far_s = 0.0
        # How many of those are like a size that somebody asked for.
        self._seen: dict[float, float] = {}
        self._last_s: float | None = None
        self._live: dict[str, deque[tuple[float, bool]]] = {}

    def observe(
        self, at_s: float, step: LoadStep | None, running: frozenset[str]
    ) -> None:
        """Take the present runs and, where there was one, a confirmed step."""
        self._pass_time(at_s)
        if step is not None and LEAST_STEP_W <= abs(step.delta_w) <= MOST_STANDBY_W:
            self._recent.append(step)
            if not running:
                self._far[int(abs(step.delta_w) / _BIN_W)] += 1.0
                self._seen.clear()
                self._track(step)
        if running != self._running:
            self._runs_change(at_s, running)
        if self._ended is not None and at_s >= self._ended[1] + _AFTER_S:
            self._close_after(at_s)

    def start_over(self) -> None:
        """Wait for the next run: the clock was set."""
        self._recent.clear()
        self._running = frozenset()
        self._session = self._ended = self._last_s = None

    def _runs_change(self, at_s: float, running: frozenset[str]) -> None:
        """Take in that runs began or ended."""
        begun, ended = running - self._running, self._running - running
        if begun:
            self._close_after(at_s)
            # What an appliance with a meter of its own draws idle, its meter tells.
            watched = begun & self._names
            if not self._running and len(begun) == 1 and watched:
                (name,) = watched
                self._note(name, at_s - _BEFORE_S - _LATE_S, at_s, upwards=True)
                self._session = name
            else:
                self._session = None
        if ended and not running:
            if self._session is not None:
                self._ended = (self._session, at_s)
            for name in ended & self._names:
                self._set_live(name, at_s, True)
            self._session = None
        self._running = running

    def _pass_time(self, at_s: float) -> None:
        last_s, self._last_s = self._last_s, at_s
        if last_s is None or self._running:
            return
        seconds = at_s - last_s
        if seconds > 0.0:
            self._far_s += min(_MOST_AT_ONCE_S, seconds)
        if self._far_s > _FADE_S:
            self._far_s /= 2.0
            self._far = [count / 2.0 for count in self._far]
            self._seen.clear()

    def _close_after(self, at_s: float) -> None:
        if self._ended is not None:
            name, ended_s = self._ended
            self._ended = None
            until_s = min(at_s, ended_s + _AFTER_S)
            self._note(name, ended_s - _LATE_S, until_s, upwards=False)

    def _note(self, name: str, start_s: float, end_s: float, *, upwards: bool) -> None:
        """Remember the steps one way in a window beside a run of `name`."""
        sizes = [
            round(abs(step.delta_w), 1)
            for step in self._recent
            if start_s <= step.at_s <= end_s and (step.delta_w > 0) is upwards
        ]
        key = f"{'up' if upwards else 'down'} {name}"
        self._common.pop(key, None)
        self._near.setdefault(key, deque(maxlen=_RUNS_KEPT)).append(
            sizes[-_STEPS_PER_RUN:]
        )

    def standby_w(self, name: str) -> float | None:
        """Return the standby that an appliance's steps prove, W, else None.

        A step up alone may be a pump that starts before the heater, a step down alone a
        fan that stops after it; what was switched on at the wall goes off by as much.
        """
        up_w = self._proven(f"up {name}", _BEFORE_S + _LATE_S)
        if up_w is None:
            return None
        down_w = self._proven(f"down {name}", _AFTER_S + _LATE_S)
        if down_w is None or not alike(up_w, down_w):
            return None
        return 0.5 * (up_w + down_w)

    def _proven(self, key: str, window_s: float) -> float | None:
        runs = self._near.get(key)
        if runs is None or len(runs) < _RUNS_NEEDED:
            return None
        if (common := self._common.get(key)) is None:
            common = self._common[key] = list(_common_sizes(runs))
        best: _Common | None = None
        for one in common:
            if (best is None or one.share > best.share) and (
                one.share > _ABOVE_CHANCE * self._chance(one.centre_w, window_s)
            ):
                best = one
        return None if best is None else best.mean_w

    def _chance(self, size_w: float, window_s: float) -> float:
        """Return how likely any window of that length holds a step of that size."""
        if self._far_s <= 0:
            return 1.0
        if (seen := self._seen.get(size_w)) is None:
            seen = self._seen[size_w] = sum(
                count
                for index, count in enumerate(self._far)
                if alike((index + 0.5) * _BIN_W, size_w)
            )
        # The bins count both ways, a window looks one way.
        return min(1.0, 0.5 * seen * window_s / self._far_s)

    def _track(self, step: LoadStep) -> None:
        """Follow an appliance being switched on or off at the wall."""
        for name in self._names:
            power_w = self.standby_w(name)
            if power_w is not None and alike(abs(step.delta_w), power_w):
                if self._is_live(name) is not (step.delta_w > 0):
                    self._set_live(name, step.at_s, step.delta_w > 0)

    def _is_live(self, name: str) -> bool:
        changes = self._live.get(name)
        return changes[-1][1] if changes else False

    def _set_live(self, name: str, at_s: float, live: bool) -> None:
        changes = self._live.setdefault(name, deque(maxlen=_CHANGES_KEPT))
        if not changes or changes[-1][1] is not live:
            changes.append((at_s, live))

    def live(self, name: str, at_s: float) -> bool:
        """Return whether the appliance was switched on at `at_s`, as far as known."""
        for since_s, live in reversed(self._live.get(name, ())):
            if since_s <= at_s:
                return live
        return False

    def snapshot(self) -> SwitchStepsState:
        """Return the state as JSON-able data."""
        return {
            "recent": [row(step) for step in self._recent],
            "running": sorted(self._running),
            "session": self._session,
            "ended": self._ended,
            "near": {key: list(runs) for key, runs in self._near.items()},
            "far": list(self._far),
            "far_s": self._far_s,
            "last_s": self._last_s,
            "live": {name: list(changes) for name, changes in self._live.items()},
        }

    def restore(self, state: SwitchStepsState) -> None:
        """Take up a state from `snapshot`; appliances that are gone are forgotten."""
        self._recent = deque(
            (from_row(LoadStep, one) for one in state["recent"]), maxlen=32
        )
        self._running = frozenset(state["running"])
        self._session = state["session"] if state["session"] in self._names else None
        ended = state["ended"]
        self._ended = ended if ended and ended[0] in self._names else None
        self._near = {
            key: deque(runs, maxlen=_RUNS_KEPT)
            for key, runs in state["near"].items()
            if key.split(" ", 1)[1] in self._names
        }
        self._common = {}
        self._far = list(state["far"])
        self._seen.clear()
        self._far_s = state["far_s"]
        self._last_s = state["last_s"]
        self._live = {
            name: deque(changes, maxlen=_CHANGES_KEPT)
            for name, changes in state["live"].items()
            if name in self._names
        }
