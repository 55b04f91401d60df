"""Load samples become quarter hours: what flowed on average, and what was known.

The outlook learns from quarter hours. A mean counts only where its source was known for
at least half of the time, so a gap stays a gap.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import inf
from operator import attrgetter
from typing import Final, TypedDict

from ..boat.boat import Bank, Boat
from ..stateful import Row, from_row, row
from .load_sample import LoadSample

QUARTER_S: Final = 900.0
_LEAST_KNOWN_S: Final = QUARTER_S / 2
_LONGEST_HOLD_S: Final = 6 * 3600.0
_TURNED_AWAY_SHARE: Final = 0.2

_NEAR_FULL_SOC: Final = 97.5
_NEAR_FULL_SOC_LEAD: Final = 85.0
_NEAR_FULL_VOLTAGE: Final = 1.075
_NEAR_FULL_VOLTAGE_LEAD: Final = 1.12
_TAPER_PER_HOUR: Final = 0.01
_TAPER_PER_HOUR_LEAD: Final = 0.05
_NOT_DISCHARGING_W: Final = 8.0

_at_s: Final = attrgetter("at_s")


@dataclass(frozen=True, slots=True)
class Quarter:
    """Means over one quarter hour, W, V and percent; None where not known.

    `turned_away` says that a full bank held the sun back, so that `solar_w` is only what
    could be used.
    """

    start_s: float
    solar_w: float | None
    other_w: float | None
    battery_w: float | None
    load_w: float | None
    voltage_v: float | None
    soc: float | None
    turned_away: bool


def battery_power_w(sample: LoadSample) -> float | None:
    """Return the bank's power, charging positive, metered or as current times voltage."""
    if sample.battery_w is not None:
        return sample.battery_w
    if sample.battery_a is not None and sample.voltage_v is not None:
        return sample.battery_a * sample.voltage_v
    return None


def turns_sun_away(boat: Boat, sample: LoadSample) -> bool:
    """Return whether a bank that is (nearly) full takes less than the sun would give.

    Near full by gauge, or by voltage where there is none; neither discharging (then every
    watt of sun is used) nor taking a real charge (then it is not held back yet).
    """
    return FullBank(boat.bank).turns_sun_away(sample)


def is_full(boat: Boat, sample: LoadSample) -> bool:
    """Return whether a bank is full and holds charge back, not only near to it.

    Lead-acid takes less and less from four fifths on, long before it is full.
    """
    if sample.soc is not None and sample.soc < _NEAR_FULL_SOC:
        return False
    return turns_sun_away(boat, sample)


class FullBank:
    """How a bank of one kind and size shows that it is (nearly) full."""

    def __init__(self, bank: Bank) -> None:
        """Work out from what on it is nearly full and how much it takes then."""
        lead = bank.chemistry.is_lead
        nominal_v = bank.nominal_voltage_v
        self.least_soc = _NEAR_FULL_SOC_LEAD if lead else _NEAR_FULL_SOC
        ratio = _NEAR_FULL_VOLTAGE_LEAD if lead else _NEAR_FULL_VOLTAGE
        self.least_v = ratio * nominal_v
        hourly_wh = bank.capacity_ah * nominal_v
        self.taper_w = hourly_wh * (_TAPER_PER_HOUR_LEAD if lead else _TAPER_PER_HOUR)

    def turns_sun_away(self, sample: LoadSample) -> bool:
        """Return whether the bank takes less than the sun would give."""
        if sample.soc is not None:
            if sample.soc < self.least_soc:
                return False
        elif sample.voltage_v is None or sample.voltage_v < self.least_v:
            return False
        power_w = battery_power_w(sample)
        return power_w is None or -_NOT_DISCHARGING_W < power_w < self.taper_w


type FiveSums = tuple[float, float, float, float, float]


class QuarterMeterState(TypedDict):
    """What `QuarterMeter` saves."""

    sums: FiveSums
    known_s: FiveSums
    away_s: float
    last: Row | None


class QuarterMeter:
    """Adds samples up; hands out each quarter hour when it is over."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self._full_bank = FullBank(boat.bank)
        self._no_array = not boat.sensors.solar_power
        self._no_other = not boat.sensors.other_charging_power
        self._last: LoadSample | None = None
        # Joules and seconds known: solar, other, battery, load, volt-seconds; turned away.
        self._sums = [0.0] * 5
        self._known_s = [0.0] * 5
        self._away_s = 0.0
        # The end of the quarter hour in which the newest sample lies.
        self._end_s = -inf

    @property
    def last(self) -> LoadSample | None:
        """The newest sample; it holds until the next one."""
        return self._last

    def observe(self, sample: LoadSample) -> list[Quarter]:
        """Take the next sample; return the quarter hours that it ended."""
        return self.observe_all((sample,))

    def observe_all(self, samples: Sequence[LoadSample]) -> list[Quarter]:
        """Take the next samples, in order; return the quarter hours that they ended."""
        done: list[Quarter] = []
        held, first = self._last, 0
        if held is None and samples:
            held, first = samples[0], 1
        while first < len(samples) and held is not None:
            until = bisect_left(samples, self._end_s, first, key=_at_s)
            self._add(held, samples[first:until])
            if until > first:
                held = samples[until - 1]
            if until < len(samples):
                done += self._pass(held, samples[until].at_s)
                held = samples[until]
            first = until + 1
        self._last = held
        return done

    def _pass(self, held: LoadSample, to_s: float) -> Iterator[Quarter]:
        """Add what held up to a time in another quarter hour; yield what that ends."""
        at_s = held.at_s
        until_s = min(to_s, at_s + _LONGEST_HOLD_S)
        while at_s < until_s:
            quarter_end_s = _quarter_end_s(at_s)
            end_s = min(until_s, quarter_end_s)
            self._add(held._replace(at_s=at_s), (held._replace(at_s=end_s),))
            if end_s == quarter_end_s:
                yield self._close(quarter_end_s - QUARTER_S, held.soc)
            at_s = end_s
        if until_s < to_s and at_s % QUARTER_S:
            yield self._close(at_s // QUARTER_S * QUARTER_S, None)
        self._end_s = _quarter_end_s(to_s)

    def _add(self, held: LoadSample, samples: Iterable[LoadSample]) -> None:
        """Add what flowed from sample to sample, `held` first, within a quarter hour.

        Every reading comes through here, hence the sums in local names.
        """
        solar_ws, other_ws, battery_ws, load_ws, volt_s = self._sums
        solar_s, other_s, battery_s, load_s, voltage_s = self._known_s
        turns_away, least_soc = (
            self._full_bank.turns_sun_away,
            self._full_bank.least_soc,
        )
        at_s, load_w, solar_w, other_w, battery_w, _, voltage_v, soc, _, _, _ = held
        for sample in samples:
            if (seconds := sample.at_s - at_s) > 0.0:
                if solar_w is not None:
                    solar_ws += solar_w * seconds
                    solar_s += seconds
                elif self._no_array:
                    solar_s += seconds
                if other_w is not None:
                    other_ws += other_w * seconds
                    other_s += seconds
                elif self._no_other:
                    other_s += seconds
                if battery_w is None:
                    battery_w = battery_power_w(held)
                if battery_w is not None:
                    battery_ws += battery_w * seconds
                    battery_s += seconds
                if load_w is not None:
                    load_ws += load_w * seconds
                    load_s += seconds
                if voltage_v is not None:
                    volt_s += voltage_v * seconds
                    voltage_s += seconds
                if (soc is None or soc >= least_soc) and turns_away(held):
                    self._away_s += seconds
            held = sample
            at_s, load_w, solar_w, other_w, battery_w, _, voltage_v, soc, _, _, _ = held
        self._sums = [solar_ws, other_ws, battery_ws, load_ws, volt_s]
        self._known_s = [solar_s, other_s, battery_s, load_s, voltage_s]

    def _close(self, start_s: float, soc: float | None) -> Quarter:
        solar_w, other_w, battery_w, load_w, voltage_v = (
            total / known if known >= _LEAST_KNOWN_S else None
            for total, known in zip(self._sums, self._known_s, strict=True)
        )
        away = self._away_s >= _TURNED_AWAY_SHARE * QUARTER_S
        self._sums, self._known_s, self._away_s = [0.0] * 5, [0.0] * 5, 0.0
        return Quarter(
            start_s, solar_w, other_w, battery_w, load_w, voltage_v, soc, away
        )

    def snapshot(self) -> QuarterMeterState:
        """Return the open sums and the newest sample, JSON-able."""
        return {
            "sums": _five(self._sums),
            "known_s": _five(self._known_s),
            "away_s": self._away_s,
            "last": None if self._last is None else row(_needed(self._last)),
        }

    def restore(self, state: QuarterMeterState) -> None:
        """Take a state that `snapshot` gave."""
        self._sums = list(state["sums"])
        self._known_s = list(state["known_s"])
        self._away_s = state["away_s"]
        last = state["last"]
        self._last = None if last is None else from_row(LoadSample, last)
        self._end_s = -inf if self._last is None else _quarter_end_s(self._last.at_s)


def _quarter_end_s(at_s: float) -> float:
    """Return the end of the quarter hour in which a moment lies."""
    return (at_s // QUARTER_S + 1) * QUARTER_S


def _needed(sample: LoadSample) -> LoadSample:
    """Return a sample with what the meter needs of it alone."""
    return sample._replace(metered_w=(), open_circuits=frozenset(), temperature_c=None)


def _five(sums: list[float]) -> FiveSums:
    solar, other, battery, load, voltage = sums
    return solar, other, battery, load, voltage
