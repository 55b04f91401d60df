"""Power that nobody explains: the boat draws more than at rest, and no run accounts for it.

It may come from an appliance on the circuit that is up for cutting, so it keeps that
circuit from being idle. Two things are forgiven: one short spike (a motor starts), and
what turns out within a minute to be the start or the end of a run on another circuit.
"""

from collections.abc import Iterable
from typing import Final, TypedDict

_SPIKE_S: Final = 4.0
_ALONE_S: Final = 300.0
SETTLE_S: Final = 60.0
"""How long after an excess it is open whether inference will explain it."""


class ExcessWatchState(TypedDict):
    """What `ExcessWatch` saves."""

    first_s: float | None
    last_s: float
    on: bool
    spike_s: float | None
    busy_s: float | None


class ExcessWatch:
    """Follows one circuit's unexplained power and says when it was last busy with it."""

    __slots__ = ("_first_s", "_last_s", "_on", "_spike_s", "busy_s")

    def __init__(self) -> None:
        """Start without an excess."""
        self._first_s: float | None = None
        self._last_s = 0.0
        self._on = False
        self._spike_s: float | None = None
        self.busy_s: float | None = None

    def observe(
        self, at_s: float, excess: bool, moves_elsewhere: Iterable[float]
    ) -> None:
        """Take whether there is unexplained power from `at_s` on.

        `moves_elsewhere` are the recent starts and ends of runs on other circuits.
        """
        if self._on:
            self._last_s = at_s
        if self._first_s is not None:
            first_s = self._first_s
            if any(abs(move_s - first_s) <= SETTLE_S for move_s in moves_elsewhere):
                self._first_s = None
            elif not excess and at_s - self._last_s >= SETTLE_S:
                self._settle()
            elif self._last_s - first_s >= SETTLE_S:
                self.busy_s = self._last_s
        if excess and self._first_s is None:
            self._first_s = self._last_s = at_s
        self._on = excess

    def _settle(self) -> None:
        assert self._first_s is not None
        short = self._last_s - self._first_s <= _SPIKE_S
        alone = self._spike_s is None or self._first_s - self._spike_s > _ALONE_S
        if short and alone:
            self._spike_s = self._last_s
        else:
            self.busy_s = self._last_s
        self._first_s = None

    @property
    def open(self) -> bool:
        """Whether an excess stands that nobody has explained or forgiven yet."""
        return self._first_s is not None

    def snapshot(self) -> ExcessWatchState:
        """Return the state as JSON-able data."""
        return {
            "first_s": self._first_s,
            "last_s": self._last_s,
            "on": self._on,
            "spike_s": self._spike_s,
            "busy_s": self.busy_s,
        }

    def restore(self, state: ExcessWatchState) -> None:
        """Take up a state from `snapshot`."""
        self._first_s = state["first_s"]
        self._last_s = state["last_s"]
        self._on = state["on"]
        self._spike_s = state["spike_s"]
        self.busy_s = state["busy_s"]


def margin_w(rated_powers_w: Iterable[float]) -> float:
    """Return how far above rest the load may be while appliances of these ratings idle.

    Half the smallest rating: less than any of them draws when it heats. More than lamps
    and a water pump, unless the smallest draws no more than those itself.
    """
    least_w = min(rated_powers_w)
    return min(max(0.5 * least_w, 120.0), 0.6 * least_w, 400.0)


def excess_w(
    load_w: float, explained_w: float, resting_w: float, margin: float
) -> float:
    """Return the power above rest and margin that no run explains, W; 0 if none."""
    return max(0.0, load_w - explained_w - resting_w - margin)
