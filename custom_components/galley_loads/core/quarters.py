"""Load samples become quarter hours: what flowed on average, and what was known.

The outlook learns from quarter hours. A mean counts only where its source was known for
at least half of the time, so a gap stays a gap.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from .boat import Boat
from .load import LoadSample

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
    bank, lead = boat.bank, boat.bank.chemistry.is_lead
    if sample.soc is not None:
        near_full = sample.soc >= (_NEAR_FULL_SOC_LEAD if lead else _NEAR_FULL_SOC)
    elif sample.voltage_v is not None:
        ratio = _NEAR_FULL_VOLTAGE_LEAD if lead else _NEAR_FULL_VOLTAGE
        near_full = sample.voltage_v >= ratio * bank.nominal_voltage_v
    else:
        return False
    if not near_full:
        return False
    power_w = battery_power_w(sample)
    if power_w is None:
        return True
    hourly_wh = bank.capacity_ah * bank.nominal_voltage_v
    taper_w = hourly_wh * (_TAPER_PER_HOUR_LEAD if lead else _TAPER_PER_HOUR)
    return -_NOT_DISCHARGING_W < power_w < taper_w


class QuarterMeter:
    """Adds samples up; hands out each quarter hour when it is over."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self._boat = boat
        self._last: LoadSample | None = None
        # Joules and seconds known: solar, other, battery, load, volt-seconds; turned away.
        self._sums = [0.0] * 5
        self._known_s = [0.0] * 5
        self._away_s = 0.0

    @property
    def last(self) -> LoadSample | None:
        """The newest sample; it holds until the next one."""
        return self._last

    def observe(self, sample: LoadSample) -> list[Quarter]:
        """Take the next sample; return the quarter hours that it ended."""
        held = self._last
        self._last = sample
        if held is None or sample.at_s <= held.at_s:
            return []
        done: list[Quarter] = []
        at_s = held.at_s
        until_s = min(sample.at_s, held.at_s + _LONGEST_HOLD_S)
        values = self._values(held)
        away = turns_sun_away(self._boat, held)
        while at_s < until_s:
            quarter_end_s = (at_s // QUARTER_S + 1) * QUARTER_S
            end_s = min(until_s, quarter_end_s)
            self._add(values, away, end_s - at_s)
            if end_s == quarter_end_s:
                done.append(self._close(quarter_end_s - QUARTER_S, held.soc))
            at_s = end_s
        if until_s < sample.at_s and at_s % QUARTER_S:
            done.append(self._close(at_s // QUARTER_S * QUARTER_S, None))
        return done

    def _values(self, held: LoadSample) -> tuple[float | None, ...]:
        has_array = bool(self._boat.sensors.solar_power)
        has_other = bool(self._boat.sensors.other_charging_power)
        return (
            held.solar_w if has_array or held.solar_w is not None else 0.0,
            held.other_charging_w
            if has_other or held.other_charging_w is not None
            else 0.0,
            battery_power_w(held),
            held.load_w,
            held.voltage_v,
        )

    def _add(
        self, values: tuple[float | None, ...], away: bool, seconds: float
    ) -> None:
        for index, value in enumerate(values):
            if value is not None:
                self._sums[index] += value * seconds
                self._known_s[index] += seconds
        if away:
            self._away_s += seconds

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

    def snapshot(self) -> dict[str, Any]:
        """Return the open sums and the newest sample, JSON-able."""
        return {
            "sums": list(self._sums),
            "known_s": list(self._known_s),
            "away_s": self._away_s,
            "last": _sample_to_list(self._last),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take a state that `snapshot` gave."""
        self._sums = list(state["sums"])
        self._known_s = list(state["known_s"])
        self._away_s = state["away_s"]
        row = state["last"]
        self._last = None if row is None else LoadSample(*row)


def _sample_to_list(sample: LoadSample | None) -> list[float | None] | None:
    """Return what the meter needs of a sample as plain data."""
    if sample is None:
        return None
    return [
        sample.at_s,
        sample.load_w,
        sample.solar_w,
        sample.other_charging_w,
        sample.battery_w,
        sample.battery_a,
        sample.voltage_v,
        sample.soc,
    ]
