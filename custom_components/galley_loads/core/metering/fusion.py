"""The load of a boat that has no load meter: what comes in less what the bank takes.

    load = (solar + other charging - bank charging) x inverter conversion

The three are measured at different moments. When a cloud passes, the bank's meter may
show it seconds before the charger's does, and the plain difference would show a load that
never was. Two rules keep such ghosts out:

* The bank's meter is the clock. At each of its values, a charger's power lies between what
  the charger said last before and what it says first after; within that range the value is
  taken that leaves the load nearest to where it was. So a value of the bank waits until the
  chargers that are lively have spoken, at most a sampling period.
* A charger alone moves the load only when the bank's meter stays silent for its period:
  then the bank did not change, and the load did. Otherwise the value, which lived for less
  than a period, is dropped.

Where the bank's power is current times voltage, the current is the clock, and the voltage
is treated like a charger. All waiting is counted in the time of the readings, so the same
readings give the same loads whenever they are handed over.
"""

from collections import deque
from dataclasses import dataclass
from math import inf
from typing import Final, NamedTuple, TypedDict

from ..stateful import Row, from_row, row
from .load_sample import LoadSample
from .pace import Pace, PaceState

LIVELY_S: Final = 120.0
STEP_W: Final = 50.0
STEP_A: Final = 5.0

# With a charger unknown, a load that comes out negative shows that it was charging.
_UNTOLD_CHARGE_W: Final = 30.0


class Rest(NamedTuple):
    """What stands in a sample beside the load and its parts."""

    voltage_v: float | None
    battery_a: float | None
    soc: float | None
    metered_w: tuple[tuple[str, float | None], ...]
    open_circuits: frozenset[str]
    temperature_c: float | None


class Parts(NamedTuple):
    """What the sensors say now; `bank` is W, or A where `voltage_v` is to multiply it."""

    solar_w: float | None
    other_w: float | None
    bank: float | None
    voltage_v: float


@dataclass(slots=True)
class Pending:
    """A moment whose load is not decided yet.

    `follows` marks a moment at which only a companion of the bank's meter spoke; `keeps`
    one at which nothing spoke that the load is made of. `waiting` has one bit for every
    companion that may still say something about this moment.
    """

    at_s: float
    due_s: float
    follows: bool
    keeps: bool
    waiting: int
    solar_w: float | None
    solar_low_w: float
    solar_high_w: float
    other_w: float | None
    other_low_w: float
    other_high_w: float
    bank: float | None
    low_v: float
    high_v: float
    rest: Rest


class FusionState(TypedDict):
    """What `Fusion` saves."""

    clock: PaceState
    paces: list[PaceState]
    pending: list[Row]
    last_bank: float | None
    load_w: float | None
    told: list[float | None]


class Fusion:
    """Puts the load together and holds back moments that are not decided yet."""

    def __init__(self, companions: int, conversion: float, *, by_current: bool) -> None:
        """Start with nothing known.

        `companions` is the number of sensors beside the bank's own meter that the load is
        made of; `by_current` says that the bank is told in A and V.
        """
        self._conversion = conversion
        self._by_current = by_current
        self._clock = Pace()
        self._paces = [Pace() for _ in range(companions)]
        self._pending: deque[Pending] = deque()
        self._last_bank: float | None = None
        self._load_w: float | None = None
        self._told: list[float | None] = [None, None, None, None]

    @property
    def held_since_s(self) -> float | None:
        """The earliest moment that is not decided yet; None if all are."""
        return self._pending[0].at_s if self._pending else None

    @property
    def due_s(self) -> float:
        """When the earliest moment is decided at the latest."""
        return self._pending[0].due_s if self._pending else inf

    def bank_spoke(self, at_s: float, parts: Parts, rest: Rest) -> None:
        """Take in a new value of the bank's meter."""
        self._clock.tick(at_s)
        self._drop_followers(at_s)
        waiting, due_s = 0, at_s
        step = self._is_step(parts)
        for index, pace in enumerate(self._paces):
            if pace.last_s is None:
                continue
            if step or at_s - pace.last_s <= LIVELY_S:
                waiting |= 1 << index
                due_s = max(due_s, at_s + pace.wait_s)
        self._last_bank = parts.bank
        self._append(at_s, due_s, parts, rest, waiting=waiting)

    def companion_spoke(
        self, index: int, at_s: float, parts: Parts, rest: Rest
    ) -> None:
        """Take in a new value of a charger, or of the voltage."""
        self._paces[index].tick(at_s)
        self._widen(1 << index, parts)
        self._append(at_s, at_s + self._clock.wait_s, parts, rest, follows=True)

    def changed_hands(
        self, index: int | None, at_s: float, parts: Parts, rest: Rest
    ) -> None:
        """Take in that a sensor came or went: it counts from this moment on.

        `index` is the companion's, None for the bank's own meter.
        """
        pace = self._clock if index is None else self._paces[index]
        pace.tick(at_s)
        self._last_bank = parts.bank
        self._drop_followers(at_s)
        for pending in self._pending:
            pending.waiting = 0
        self._append(at_s, at_s, parts, rest)

    def rest_changed(self, at_s: float, parts: Parts, rest: Rest) -> None:
        """Take in a change of something that the load is not made of."""
        self._append(at_s, at_s, parts, rest, keeps=True)

    def release(self, now_s: float) -> list[LoadSample]:
        """Return the moments that are decided by `now_s`, in order."""
        samples: list[LoadSample] = []
        pending = self._pending
        while pending:
            head = pending[0]
            undecided = head.waiting or head.follows
            if undecided and head.due_s > now_s:
                break
            samples.append(self._decide(pending.popleft()))
        return samples

    def _is_step(self, parts: Parts) -> bool:
        if parts.bank is None or self._last_bank is None:
            return True
        limit = STEP_A if self._by_current else STEP_W
        return abs(parts.bank - self._last_bank) > limit

    def _drop_followers(self, at_s: float) -> None:
        """Forget what only companions said, where the bank speaks within its period."""
        pending = self._pending
        if any(p.follows and p.due_s > at_s for p in pending):
            self._pending = deque(
                p for p in pending if not (p.follows and p.due_s > at_s)
            )

    def _widen(self, bit: int, parts: Parts) -> None:
        """Let what a companion says now count as said after the moments that wait."""
        for pending in self._pending:
            if not pending.waiting & bit:
                continue
            pending.waiting &= ~bit
            if parts.solar_w is not None:
                pending.solar_low_w = min(pending.solar_low_w, parts.solar_w)
                pending.solar_high_w = max(pending.solar_high_w, parts.solar_w)
            if parts.other_w is not None:
                pending.other_low_w = min(pending.other_low_w, parts.other_w)
                pending.other_high_w = max(pending.other_high_w, parts.other_w)
            pending.low_v = min(pending.low_v, parts.voltage_v)
            pending.high_v = max(pending.high_v, parts.voltage_v)

    def _append(
        self,
        at_s: float,
        due_s: float,
        parts: Parts,
        rest: Rest,
        *,
        follows: bool = False,
        keeps: bool = False,
        waiting: int = 0,
    ) -> None:
        solar_w = parts.solar_w or 0.0
        other_w = parts.other_w or 0.0
        self._pending.append(
            Pending(
                at_s,
                due_s,
                follows,
                keeps,
                waiting,
                parts.solar_w,
                solar_w,
                solar_w,
                parts.other_w,
                other_w,
                other_w,
                parts.bank,
                parts.voltage_v,
                parts.voltage_v,
                rest,
            )
        )

    def _decide(self, moment: Pending) -> LoadSample:
        if not moment.keeps:
            self._tell(moment)
        load_w, solar_w, other_w, battery_w = self._told
        rest = moment.rest
        return LoadSample(
            moment.at_s,
            load_w,
            solar_w,
            other_w,
            battery_w,
            rest.battery_a,
            rest.voltage_v,
            rest.soc,
            rest.metered_w,
            rest.open_circuits,
            rest.temperature_c,
        )

    def _tell(self, moment: Pending) -> None:
        """Find the load of a moment and the share of each part in it."""
        bank = moment.bank
        if bank is None or moment.solar_w is None:
            self._load_w = None
            battery_w = None if bank is None else bank * moment.low_v
            self._told = [None, moment.solar_w, moment.other_w, battery_w]
            return
        # Charging takes off the load: the higher the voltage, the lower the load.
        bank_low_w, bank_high_w = bank * moment.low_v, bank * moment.high_v
        if bank_low_w > bank_high_w:
            bank_low_w, bank_high_w = bank_high_w, bank_low_w
        low_w = moment.solar_low_w + moment.other_low_w - bank_high_w
        high_w = moment.solar_high_w + moment.other_high_w - bank_low_w
        wanted_w = self._load_w
        if wanted_w is None:
            wanted_w = moment.solar_w + (moment.other_w or 0.0) - bank_high_w
        load_w = min(max(wanted_w, low_w), high_w)
        part = (load_w - low_w) / (high_w - low_w) if high_w > low_w else 0.0
        self._load_w = load_w
        told_w: float | None = max(0.0, load_w) * self._conversion
        if moment.other_w is None and load_w < -_UNTOLD_CHARGE_W:
            told_w = None
        solar_w = _between(moment.solar_low_w, moment.solar_high_w, part)
        other_w = moment.other_w
        if other_w is not None:
            other_w = _between(moment.other_low_w, moment.other_high_w, part)
        battery_w = _between(bank_high_w, bank_low_w, part)
        self._told = [told_w, solar_w, other_w, battery_w]

    def snapshot(self) -> FusionState:
        """Return the state as plain data."""
        return {
            "clock": self._clock.snapshot(),
            "paces": [pace.snapshot() for pace in self._paces],
            "pending": [row(pending) for pending in self._pending],
            "last_bank": self._last_bank,
            "load_w": self._load_w,
            "told": list(self._told),
        }

    def restore(self, state: FusionState) -> None:
        """Take back what `snapshot` gave."""
        self._clock.restore(state["clock"])
        for pace, saved in zip(self._paces, state["paces"], strict=True):
            pace.restore(saved)
        self._pending = deque(from_row(Pending, one) for one in state["pending"])
        self._last_bank = state["last_bank"]
        self._load_w = state["load_w"]
        self._told = list(state["told"])


def _between(start: float, end: float, part: float) -> float:
    return start + (end - start) * part
