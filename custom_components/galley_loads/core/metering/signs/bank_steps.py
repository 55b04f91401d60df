"""What else moves when the bank's reading makes a step.

Whatever more is aboard, the sign of a step cannot lie: a load that comes on takes from the
bank, sun that comes out gives to it, and a bank that gives more has a lower voltage. A step
counts only between two levels that each lasted for a while, and only where what moved is
about as large as the step itself.
"""

from collections import deque
from typing import Final, TypedDict

from ...boat.boat import Boat
from ...stateful import Row, from_row, row
from ..quarter_hours import FullBank
from ..tally import Tally, Votes
from .bank_look import BankLook

LEAST_STEP_W: Final = 150.0
LEAST_STEP_VOLTAGE: Final = 0.0015
"""Share of the nominal voltage: 0.02 V on a bank of 12.8 V."""

STEPS_KEPT: Final = 20.0

_LOOKS: Final = 7
"""Two looks before the step, two after it, and the step anywhere between."""

_LEVEL_W: Final = 40.0
_LEVEL_SHARE: Final = 0.15
_LEVEL_VOLTAGE_SHARE: Final = 0.5
_STILL_SHARE: Final = 0.25
_ALIKE: Final = (0.6, 1.5)
_LEAST_OF_LOAD: Final = 0.97
"""An inverter takes more from the bank than it delivers; a charger that hangs on the load
meter gives the bank less than it takes, and moves with the meter in the other direction."""

_NEARLY_FULL_POINTS: Final = 3.0
_NEARLY_FULL_VOLTAGE_SHARE: Final = 0.975


class BankStepsState(TypedDict):
    """What `BankSteps` saves."""

    with_load: Votes
    with_sources: Votes
    with_voltage: Votes
    looks: list[Row]


class BankSteps:
    """Votes of the bank's steps, by what moved with them."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen.

        Attributes:
            with_load: steps of the load meter.
            with_sources: steps of sun and other charging.
            with_voltage: steps of the bank's voltage.
        """
        self.with_load = Tally(STEPS_KEPT)
        self.with_sources = Tally(STEPS_KEPT)
        self.with_voltage = Tally(STEPS_KEPT)
        bank, full = boat.bank, FullBank(boat.bank)
        self._least_of_load = _LEAST_OF_LOAD * boat.conversion
        self._full_soc = full.least_soc - _NEARLY_FULL_POINTS
        self._full_v = full.least_v * _NEARLY_FULL_VOLTAGE_SHARE
        self._least_v = LEAST_STEP_VOLTAGE * bank.nominal_voltage_v
        self._looks: deque[BankLook] = deque(maxlen=_LOOKS)

    def see(self, look: BankLook) -> None:
        """Take the next look."""
        looks = self._looks
        looks.append(look)
        if len(looks) < _LOOKS:
            return
        first, second, last, newest = looks[0], looks[1], looks[-2], looks[-1]
        step_w = _step(
            first.battery_w, second.battery_w, last.battery_w, newest.battery_w
        )
        if step_w is None or abs(step_w) < LEAST_STEP_W:
            return
        load_w = _step(first.load_w, second.load_w, last.load_w, newest.load_w)
        given_w = _step(first.given_w, second.given_w, last.given_w, newest.given_w)
        self._ask_load(step_w, load_w, given_w or 0.0)
        self._ask_sources(step_w, given_w, load_w or 0.0)
        self._ask_voltage(step_w)
        # What comes after the step is what comes before the next.
        self.forget()
        looks.extend((last, newest))

    def forget(self) -> None:
        """Begin anew after a gap; the votes stay."""
        self._looks.clear()

    def _ask_load(self, step_w: float, load_w: float | None, given_w: float) -> None:
        if (
            load_w is not None
            and abs(load_w) >= LEAST_STEP_W
            and abs(given_w) <= _STILL_SHARE * abs(load_w)
            and _are_alike(step_w, load_w)
        ):
            right = (step_w > 0.0) != (load_w > 0.0)
            if right or abs(step_w) >= self._least_of_load * abs(load_w):
                self.with_load.note(right)

    def _ask_sources(self, step_w: float, given_w: float | None, load_w: float) -> None:
        # A full bank's controllers follow the load, and both would move alike.
        if (
            given_w is not None
            and abs(given_w) >= LEAST_STEP_W
            and abs(load_w) <= _STILL_SHARE * abs(given_w)
            and _are_alike(step_w, given_w)
            and not any(self._may_be_full(look) for look in self._looks)
        ):
            self.with_sources.note((step_w > 0.0) == (given_w > 0.0))

    def _may_be_full(self, look: BankLook) -> bool:
        if look.soc is not None:
            return look.soc >= self._full_soc
        return look.voltage_v is not None and look.voltage_v >= self._full_v

    def _ask_voltage(self, step_w: float) -> None:
        looks = self._looks
        voltages = (
            looks[0].voltage_v,
            looks[1].voltage_v,
            looks[-2].voltage_v,
            looks[-1].voltage_v,
        )
        step_v = _step(*voltages, level=self._least_v, share=_LEVEL_VOLTAGE_SHARE)
        if step_v is not None and abs(step_v) >= self._least_v:
            self.with_voltage.note((step_v > 0.0) == (step_w > 0.0))

    def snapshot(self) -> BankStepsState:
        """Return the state as plain data, fit for JSON."""
        return {
            "with_load": self.with_load.snapshot(),
            "with_sources": self.with_sources.snapshot(),
            "with_voltage": self.with_voltage.snapshot(),
            "looks": [row(look) for look in self._looks],
        }

    def restore(self, state: BankStepsState) -> None:
        """Take back what `snapshot` gave."""
        self.with_load.restore(state["with_load"])
        self.with_sources.restore(state["with_sources"])
        self.with_voltage.restore(state["with_voltage"])
        self._looks.extend(from_row(BankLook, one) for one in state["looks"])


def _step(
    first: float | None,
    second: float | None,
    last: float | None,
    newest: float | None,
    *,
    level: float = _LEVEL_W,
    share: float = _LEVEL_SHARE,
) -> float | None:
    """Return how far two levels lie apart; None where one is unknown or none."""
    if first is None or second is None or last is None or newest is None:
        return None
    step = (last + newest - first - second) / 2.0
    moves = max(level, share * abs(step))
    if abs(second - first) > moves or abs(newest - last) > moves:
        return None
    return step


def _are_alike(step_w: float, cause_w: float) -> bool:
    low, high = _ALIKE
    return low * abs(cause_w) <= abs(step_w) <= high * abs(cause_w)
