"""Power that comes and goes by little: perhaps a motor, perhaps a regulator's pulses.

The margin over rest (`excess.py`) leaves room for lamps and pumps. A bread maker that kneads
stays within it, and so do pulses of two seconds that a meter of five shows averaged. What
gives both away is that they come back, again and again, while a lamp is switched on once and
a fridge starts every half hour. Where the load came and went like that, what did so may stand
on the circuit that is up for cutting; and if the load stands at the upper level again later,
it is taken to be on again, working steadily.

A pump does the same while somebody washes up. Then a cut is put off, which costs little. A
boat on which something comes and goes all day is learnt by the times at which the circuit's
relay was open (`restless_habit.py`).
"""

from collections.abc import Iterable
from typing import Final, TypedDict

from ..boat.boat import Appliance
from ..kinds.behaviour import Level, Small, State
from .excess import SETTLE_S
from .restless_habit import RestlessHabit, RestlessHabitState

QUIET_S: Final = 600.0
"""Swings within this time belong together; so long must it be quiet after them."""
LEAST_W: Final = 20.0
"""Smaller swings are a meter's noise and a laptop's whims."""
_FLOORS: Final = 2.0
_MOST_LEAST_W: Final = 40.0
"""What a meter resolves is judged by how it changes: what comes and goes must not hide itself."""
_STANDS_FOR_S: Final = 1800.0
"""What came and went and then stands is not followed any further: lamps add up."""
_METER_S: Final = 10.0
"""Pulses that may be shorter than a meter's period show as a part of their power."""

type Swing = tuple[float, float, float, float]
"""When the load rose and when it fell again (Unix seconds), by how much, and from what (W)."""


def works_at_little(appliance: Appliance, margin_w: float) -> bool:
    """Return whether an appliance may draw between a lamp's power and `margin_w` at work."""
    states = appliance.kind.description.states.values()
    return any(_is_little(state, appliance.rated_power_w, margin_w) for state in states)


def _is_little(state: State, rated_w: float, margin_w: float) -> bool:
    match state.draw:
        case Small(_, high_w):
            return high_w >= LEAST_W
        case Level(low, _) if low * rated_w < margin_w:
            return True
        case _:
            return state.dwell_s[0] < _METER_S


class RestlessWatchState(TypedDict):
    """What `RestlessWatch` saves."""

    habit: RestlessHabitState
    is_open: bool
    last_s: float | None
    explained_w: float
    hushed_until_s: float
    low_w: float | None
    high_w: float
    rose_s: float | None
    swings: list[Swing]
    base_w: float | None
    size_w: float
    swung_s: float
    busy_s: float | None


class RestlessWatch:
    """Follows the load as far as a circuit may be behind it, and counts its small swings."""

    def __init__(self) -> None:
        """Start without a past."""
        self._habit = RestlessHabit()
        self._is_open = False
        self._last_s: float | None = None
        self._explained_w = 0.0
        self._hushed_until_s = 0.0
        self._low_w: float | None = None
        self._high_w = 0.0
        self._rose_s: float | None = None
        self._swings: list[Swing] = []
        self._base_w: float | None = None
        self._size_w = 0.0
        self._swung_s = 0.0
        self.busy_s: float | None = None

    def observe(
        self,
        at_s: float,
        load_w: float,
        explained_w: float,
        floor_w: float,
        moves_elsewhere: Iterable[float],
        *,
        is_open: bool,
    ) -> None:
        """Take the load without the circuit's own runs, and what runs elsewhere draw of it, W.

        `floor_w` is the least that the load's meter resolves, `moves_elsewhere` when runs
        on other circuits began or ended, and `is_open` says that the circuit's relay is.
        """
        seconds = 0.0 if self._last_s is None else max(0.0, at_s - self._last_s)
        self._last_s = at_s
        if is_open is not self._is_open:
            self._is_open = is_open
            self._forget()
        least_w = max(LEAST_W, min(_FLOORS * floor_w, _MOST_LEAST_W))
        if abs(explained_w - self._explained_w) >= LEAST_W:
            # Meter and inference are not of one mind while a run elsewhere changes.
            self._hushed_until_s = at_s + SETTLE_S
        self._explained_w = explained_w
        moves = tuple(moves_elsewhere)
        if at_s < self._hushed_until_s:
            self._low_w = self._rose_s = None
        else:
            self._follow(at_s, load_w - explained_w, least_w)
        self._swings = [
            swing
            for swing in self._swings
            if at_s - swing[1] <= QUIET_S
            and not any(abs(move_s - swing[0]) <= SETTLE_S for move_s in moves)
        ]
        if is_open:
            self._habit.observe(len(self._swings), seconds)
        else:
            self._judge(at_s, load_w - explained_w, least_w)

    def start_over(self) -> None:
        """Follow the load anew and keep the habit: the clock was set."""
        self._forget()
        self._last_s = self.busy_s = None
        self._explained_w = self._hushed_until_s = self._swung_s = 0.0

    def _forget(self) -> None:
        self._low_w = self._rose_s = self._base_w = None
        self._swings = []

    def _follow(self, at_s: float, load_w: float, least_w: float) -> None:
        if self._low_w is None:
            self._low_w = load_w
        elif self._rose_s is None:
            self._low_w = min(self._low_w, load_w)
            if load_w >= self._low_w + least_w:
                self._rose_s, self._high_w = at_s, load_w
        else:
            self._high_w = max(self._high_w, load_w)
            if load_w <= self._high_w - least_w:
                size_w = self._high_w - max(self._low_w, load_w)
                low_w = min(self._low_w, load_w)
                self._swings.append((self._rose_s, at_s, size_w, low_w))
                self._rose_s, self._low_w = None, load_w

    def _judge(self, at_s: float, load_w: float, least_w: float) -> None:
        if len(self._swings) >= self._habit.enough:
            lows_w = [low_w for *_, low_w in self._swings]
            sizes_w = sorted(size_w for _, _, size_w, _ in self._swings)
            if self._base_w is not None:
                lows_w.append(self._base_w)
            self._base_w, self._size_w = min(lows_w), sizes_w[len(sizes_w) // 2]
            self.busy_s = self._swung_s = self._swings[-1][1]
        if self._base_w is None or at_s < self._hushed_until_s:
            return
        if at_s - self._swung_s > _STANDS_FOR_S:
            self._base_w = None
            return
        self._base_w = min(self._base_w, load_w)
        if load_w - self._base_w >= max(0.5 * self._size_w, 0.8 * least_w):
            self.busy_s = at_s

    def snapshot(self) -> RestlessWatchState:
        """Return the state as JSON-able data."""
        return {
            "habit": self._habit.snapshot(),
            "is_open": self._is_open,
            "last_s": self._last_s,
            "explained_w": self._explained_w,
            "hushed_until_s": self._hushed_until_s,
            "low_w": self._low_w,
            "high_w": self._high_w,
            "rose_s": self._rose_s,
            "swings": list(self._swings),
            "base_w": self._base_w,
            "size_w": self._size_w,
            "swung_s": self._swung_s,
            "busy_s": self.busy_s,
        }

    def restore(self, state: RestlessWatchState) -> None:
        """Take up a state from `snapshot`."""
        self._habit.restore(state["habit"])
        self._is_open = state["is_open"]
        self._last_s = state["last_s"]
        self._explained_w = state["explained_w"]
        self._hushed_until_s = state["hushed_until_s"]
        self._low_w = state["low_w"]
        self._high_w = state["high_w"]
        self._rose_s = state["rose_s"]
        self._swings = list(state["swings"])
        self._base_w = state["base_w"]
        self._size_w = state["size_w"]
        self._swung_s = state["swung_s"]
        self.busy_s = state["busy_s"]
