"""How full the bank is: by its own gauge, else counted, and how sure that is.

Counting starts from the resting voltage (poor: on the flat part of a lithium curve ten
millivolts a cell are two percent and more) and is set right whenever the bank is plainly
full. In between it drifts, so its doubt grows with time; whoever shows the number says
that it is counted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final, TypedDict

from ..boat.boat import Bank, Boat, Chemistry
from ..metering.load_sample import LoadSample
from .bank_laws import charge_efficiency, counted_soc

_LFP_OPEN_CIRCUIT: Final = (
    (2.0102, 0.0),
    (2.4177, 0.33),
    (2.7405, 1.17),
    (2.9299, 2.67),
    (3.0872, 5.34),
    (3.1942, 8.85),
    (3.2772, 29.72),
    (3.3511, 98.33),
    (3.4180, 99.5),
    (3.5981, 100.0),
)
"""V per cell and percent; Sunil, Pattipati, Balasingam, IEEE Trans. Instrum. Meas. 2025."""

_NMC_OPEN_CIRCUIT: Final = ((3.0, 0.0), (3.45, 10.0), (3.7, 50.0), (4.2, 100.0))
_LEAD_OPEN_CIRCUIT: Final = (
    (1.982, 0.0),
    (2.01, 25.0),
    (2.04, 50.0),
    (2.075, 75.0),
    (2.108, 100.0),
)
"""Common practice, no source."""

_FULL_VOLTAGE: Final = {True: 2.33, False: 3.45}
_FULL_TAIL_PER_HOUR: Final = {True: 0.02, False: 0.04}
_FULL_FOR_S: Final = 300.0
_REST_PER_HOUR: Final = 0.05

_GAUGE_DOUBT: Final = 0.7
_FULL_DOUBT: Final = 1.0
_VOLTAGE_DOUBT: Final = {True: 10.0, False: 15.0}
_DOUBT_PER_DAY: Final = 2.0
_MOST_DOUBT: Final = 20.0
_LONGEST_STEP_S: Final = 6 * 3600.0


class ChargeSource(StrEnum):
    """Where the state of charge comes from."""

    GAUGE = "gauge"
    COUNTED = "counted"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ChargeState:
    """State of charge in percent with its doubt (one standard deviation, percent).

    `since_full_s` is the Unix time at which counting last met a full bank, None if never.
    """

    source: ChargeSource
    soc: float | None = None
    doubt: float = _MOST_DOUBT
    since_full_s: float | None = None


def soc_by_voltage(bank: Bank, voltage_v: float) -> float:
    """Return the state of charge in percent that a resting voltage suggests, 0 to 100."""
    table: Sequence[tuple[float, float]]
    if bank.chemistry.is_lead:
        table, cells = _LEAD_OPEN_CIRCUIT, round(bank.nominal_voltage_v / 2.0)
    elif bank.chemistry is Chemistry.LFP:
        table, cells = _LFP_OPEN_CIRCUIT, round(bank.nominal_voltage_v / 3.2)
    else:
        table, cells = _NMC_OPEN_CIRCUIT, round(bank.nominal_voltage_v / 3.65)
    return _interpolate(table, voltage_v / max(cells, 1))


def voltage_soc_is_poor(bank: Bank, soc: float) -> bool:
    """Return whether voltage alone tells little: a lithium bank between 20 and 95 percent."""
    return not bank.chemistry.is_lead and 20.0 < soc < 95.0


def _interpolate(table: Sequence[tuple[float, float]], x: float) -> float:
    if x <= table[0][0]:
        return table[0][1]
    for (x0, y0), (x1, y1) in pairwise(table):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return table[-1][1]


class ChargeCounterState(TypedDict):
    """What `ChargeCounter` saves."""

    counted: float | None
    variance: float
    rested: bool
    full_s: float
    since_full_s: float | None


class ChargeCounter:
    """Follows the state of charge of one bank."""

    def __init__(self, boat: Boat) -> None:
        """Start without knowing."""
        self._bank = boat.bank
        self._has_gauge = boat.sensors.battery_soc is not None
        self._last: LoadSample | None = None
        self._counted: float | None = None
        self._variance = 0.0
        self._rested = False
        self._full_s = 0.0
        self._since_full_s: float | None = None

    def observe(self, sample: LoadSample) -> None:
        """Take the next sample."""
        self.observe_all((sample,))

    def observe_all(self, samples: Sequence[LoadSample]) -> None:
        """Take the next samples, in the order of their times."""
        held = self._last
        if samples:
            self._last = samples[-1]
        if self._has_gauge:
            return
        for sample in samples:
            if held is not None and sample.at_s > held.at_s:
                self._count(held, sample.at_s - held.at_s)
            self._start(sample)
            held = sample

    def start_over(self) -> None:
        """Count on from the next sample: the clock was set."""
        self._last = None
        self._full_s = 0.0
        self._since_full_s = None

    def _start(self, sample: LoadSample) -> None:
        """Begin with what the voltage suggests, and once more when the bank first rests."""
        if self._rested or sample.voltage_v is None:
            return
        current_a = self._current_a(sample)
        rests = (
            current_a is not None
            and abs(current_a) <= _REST_PER_HOUR * self._bank.capacity_ah
        )
        if self._counted is None or rests:
            self._counted = soc_by_voltage(self._bank, sample.voltage_v)
            doubt = _VOLTAGE_DOUBT[self._bank.chemistry.is_lead]
            self._variance = (doubt if rests else _MOST_DOUBT) ** 2
        self._rested = rests

    def _count(self, held: LoadSample, seconds: float) -> None:
        current_a = self._current_a(held)
        if self._counted is None:
            return
        self._variance += (_DOUBT_PER_DAY**2) * seconds / 86_400.0
        if current_a is None or seconds > _LONGEST_STEP_S:
            # Not counted: what flowed meanwhile is unknown and may have been much.
            self._variance += _MOST_DOUBT**2 * seconds / 86_400.0
            self._full_s = 0.0
            return
        soc = counted_soc(
            self._counted,
            current_a,
            seconds / 3600.0,
            self._bank.capacity_ah,
            charge_efficiency(self._bank),
        )
        self._counted = min(max(soc, 0.0), 100.0)
        self._meet_full(held, current_a, seconds)

    def _meet_full(self, held: LoadSample, current_a: float, seconds: float) -> None:
        """Set the count right where voltage is up and the charge current has tailed off."""
        lead = self._bank.chemistry.is_lead
        cells = round(self._bank.nominal_voltage_v / (2.0 if lead else 3.2))
        full = (
            held.voltage_v is not None
            and held.voltage_v >= _FULL_VOLTAGE[lead] * cells
            and 0.0 <= current_a <= _FULL_TAIL_PER_HOUR[lead] * self._bank.capacity_ah
        )
        self._full_s = self._full_s + seconds if full else 0.0
        if self._full_s >= _FULL_FOR_S:
            self._counted = 100.0
            self._rested = True
            self._variance = _FULL_DOUBT**2
            self._since_full_s = held.at_s + seconds

    def _current_a(self, held: LoadSample) -> float | None:
        if held.battery_a is not None:
            return held.battery_a
        if held.battery_w is not None:
            return held.battery_w / (held.voltage_v or self._bank.nominal_voltage_v)
        return None

    def state(self) -> ChargeState:
        """Return what is known now."""
        if self._has_gauge:
            soc = None if self._last is None else self._last.soc
            if soc is None:
                return ChargeState(ChargeSource.UNKNOWN)
            return ChargeState(ChargeSource.GAUGE, soc, _GAUGE_DOUBT)
        if self._counted is None:
            return ChargeState(ChargeSource.UNKNOWN)
        return ChargeState(
            ChargeSource.COUNTED,
            self._counted,
            min(self._variance**0.5, _MOST_DOUBT),
            self._since_full_s,
        )

    def snapshot(self) -> ChargeCounterState:
        """Return the count, JSON-able; the newest sample is the quarter meter's to keep."""
        return {
            "counted": self._counted,
            "variance": self._variance,
            "rested": self._rested,
            "full_s": self._full_s,
            "since_full_s": self._since_full_s,
        }

    def restore(self, state: ChargeCounterState, last: LoadSample | None) -> None:
        """Take a state that `snapshot` gave, and the sample that was the newest then."""
        self._counted = state["counted"]
        self._variance = state["variance"]
        self._rested = state["rested"]
        self._full_s = state["full_s"]
        self._since_full_s = state["since_full_s"]
        self._last = last
