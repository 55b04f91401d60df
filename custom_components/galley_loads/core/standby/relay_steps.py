"""What a circuit draws on standby, from the load's step when its relay moves.

Opening a relay takes away all that its circuit drew, closing it brings that back. When
nothing ran and nothing else moved, the difference between the load just before and
shortly after is the circuit's standby. A fridge that starts in the same seconds spoils
one measurement, so the median of several counts.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import median
from typing import Final, TypedDict

from ..stateful import Row, from_row, row

_BEFORE_S: Final = 20.0
_HISTORY_S: Final = 200.0
_HISTORY_KEPT: Final = 256
_AFTER_OPEN_S: Final = (3.0, 23.0)
_AFTER_CLOSE_S: Final = (8.0, 33.0)
"""Seconds after the relay's move that are averaged; electronics settle after closing."""
_LONGEST_WAIT_S: Final = 120.0
"""A slow meter has this long to report at all after the relay's move."""
_MEASUREMENTS_KEPT: Final = 15
_UNSTEADY_W: Final = 30.0
MOST_STANDBY_W: Final = 80.0
"""Per appliance; more than this is no standby (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Move:
    """A relay's move that is being measured.

    `before_w` is the mean load before it, `last_w` the last value; `answered_s` is when
    the load's meter first said something else.
    """

    circuit: str
    opened: bool
    at_s: float
    before_w: float
    last_w: float
    answered_s: float | None = None


class RelayStepsState(TypedDict):
    """What `RelaySteps` saves."""

    history: list[tuple[float, float]]
    open: list[str] | None
    pending: Row | None
    measured: dict[str, list[float]]


class RelaySteps:
    """Measures the standby of circuits by the moves of their relays."""

    def __init__(self, appliances_on: Mapping[str, int]) -> None:
        """Watch the circuits named, each with its number of appliances."""
        self._appliances_on = dict(appliances_on)
        self._history: deque[tuple[float, float]] = deque(maxlen=_HISTORY_KEPT)
        self._open: frozenset[str] | None = None
        self._pending: Move | None = None
        self._measured: dict[str, deque[float]] = {}

    def observe(
        self,
        at_s: float,
        load_w: float | None,
        open_circuits: frozenset[str],
        idle: bool,
    ) -> None:
        """Take what is known from `at_s` on; `idle` says that no appliance runs."""
        if not self._appliances_on:
            return
        moved: frozenset[str] = frozenset()
        if self._open is not None and self._open != open_circuits:
            moved = self._open ^ open_circuits
        self._open = open_circuits
        if load_w is None:
            self._history.clear()
            self._pending = None
            return
        if self._pending is not None:
            if self._pending.answered_s is None and load_w != self._pending.last_w:
                self._pending = replace(self._pending, answered_s=at_s)
            self._finish(at_s, disturbed=bool(moved) or not idle)
        if moved:
            self._begin(at_s, moved, open_circuits, idle)
        self._history.append((at_s, load_w))
        while self._history[0][0] < at_s - _HISTORY_S:
            self._history.popleft()

    def start_over(self) -> None:
        """Wait for the next move: the clock was set."""
        self._history.clear()
        self._pending = self._open = None

    def _begin(
        self,
        at_s: float,
        moved: frozenset[str],
        open_circuits: frozenset[str],
        idle: bool,
    ) -> None:
        before = self._mean(at_s - _BEFORE_S, at_s)
        if len(moved) != 1 or not idle or before is None:
            return
        (circuit,) = moved
        if circuit in self._appliances_on:
            self._pending = Move(
                circuit, circuit in open_circuits, at_s, before, self._history[-1][1]
            )

    def _finish(self, at_s: float, disturbed: bool) -> None:
        assert self._pending is not None
        move = self._pending
        if disturbed or at_s - move.at_s > _LONGEST_WAIT_S:
            self._pending = None
            return
        if move.answered_s is None:
            return
        first_s, last_s = _AFTER_OPEN_S if move.opened else _AFTER_CLOSE_S
        start_s = max(move.at_s + first_s, move.answered_s)
        end_s = start_s + last_s - first_s
        if at_s < end_s:
            return
        self._pending = None
        after_w = self._mean(start_s, end_s)
        if after_w is None:
            return
        before_w, opened, circuit = move.before_w, move.opened, move.circuit
        step_w = before_w - after_w if opened else after_w - before_w
        most_w = MOST_STANDBY_W * self._appliances_on[circuit]
        if -_UNSTEADY_W <= step_w <= most_w:
            self._measured.setdefault(circuit, deque(maxlen=_MEASUREMENTS_KEPT)).append(
                round(step_w, 2)
            )

    def _mean(self, start_s: float, end_s: float) -> float | None:
        """Return the time-weighted mean load of a span; None if unsteady or unknown."""
        energy_ws = 0.0
        covered_s = 0.0
        lowest_w, highest_w = float("inf"), float("-inf")
        spans = list(self._history)
        for index, (from_s, load_w) in enumerate(spans):
            until_s = spans[index + 1][0] if index + 1 < len(spans) else end_s
            seconds = min(until_s, end_s) - max(from_s, start_s)
            if seconds > 0:
                energy_ws += load_w * seconds
                covered_s += seconds
                lowest_w, highest_w = min(lowest_w, load_w), max(highest_w, load_w)
        if covered_s <= 0 or highest_w - lowest_w > _UNSTEADY_W:
            return None
        return energy_ws / covered_s

    def standby_w(self, circuit: str) -> float | None:
        """Return the circuit's measured standby, W; None before the first good step."""
        measured = self._measured.get(circuit)
        return max(median(measured), 0.0) if measured else None

    def snapshot(self) -> RelayStepsState:
        """Return the state as JSON-able data."""
        return {
            "history": list(self._history),
            "open": None if self._open is None else sorted(self._open),
            "pending": None if self._pending is None else row(self._pending),
            "measured": {name: list(steps) for name, steps in self._measured.items()},
        }

    def restore(self, state: RelayStepsState) -> None:
        """Take up a state from `snapshot`; circuits that are gone are forgotten."""
        self._history = deque(state["history"], maxlen=_HISTORY_KEPT)
        self._open = None if state["open"] is None else frozenset(state["open"])
        pending = state["pending"]
        self._pending = None if pending is None else from_row(Move, pending)
        if self._pending and self._pending.circuit not in self._appliances_on:
            self._pending = None
        self._measured = {
            name: deque(steps, maxlen=_MEASUREMENTS_KEPT)
            for name, steps in state["measured"].items()
            if name in self._appliances_on
        }
