"""How much energy one percent of the bank is, learnt from its gauge and its power.

A plate's ampere-hours times nominal volts is only nearly what a percent holds: the
voltage under load differs, banks age, charge is not all given back. Long one-way spans
between two gauge readings tell it for discharge and for charge apart.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Final, TypedDict

from ..boat.boat import Bank
from .bank_laws import charge_efficiency

_SPAN_POINTS: Final = 8.0
_ONE_WAY_SHARE: Final = 0.1
_PRIOR_POINTS: Final = 40.0
_MOST_POINTS: Final = 400.0
_RANGE: Final = (0.7, 1.3)
_CHARGING_VOLTAGE_RATIO: Final = 1.02
_FADE: Final = 1.0 - 1.0 / 2000.0
_LEAST_DISCHARGES: Final = 50.0
_LEAST_VARIANCE_A2: Final = 9.0


@dataclass(frozen=True, slots=True)
class LoadVoltage:
    """The bank's voltage while it gives: `at_rest_v` less `ohm` times the current."""

    at_rest_v: float
    ohm: float = 0.0

    def under_w(self, power_w: float) -> float:
        """Return the voltage under a discharge power, the current's own sag within."""
        below_root = self.at_rest_v**2 - 4.0 * self.ohm * max(power_w, 0.0)
        if below_root <= 0.0:
            return self.at_rest_v / 2.0
        return (self.at_rest_v + sqrt(below_root)) / 2.0


@dataclass(frozen=True, slots=True)
class PointEnergy:
    """Wh at the bank that one percent gives when discharged, and needs when charged."""

    discharge_wh: float
    charge_wh: float


def stated_point_energy(bank: Bank, voltage_v: float | None = None) -> PointEnergy:
    """Return what the boat file and the usual voltage make of one percent."""
    point_wh = bank.capacity_ah * (voltage_v or bank.nominal_voltage_v) / 100.0
    charge_wh = point_wh * _CHARGING_VOLTAGE_RATIO / charge_efficiency(bank)
    return PointEnergy(point_wh, charge_wh)


class BankMeterState(TypedDict):
    """What `BankMeter` saves."""

    start_soc: float | None
    in_out: tuple[float, float]
    points: tuple[float, float]
    energy_wh: tuple[float, float]
    sag: tuple[float, float, float, float, float]


class BankMeter:
    """Learns the energy of one percent, and the bank's usual voltage under load."""

    def __init__(self) -> None:
        """Start with nothing learnt."""
        self._start_soc: float | None = None
        self._in_wh = 0.0
        self._out_wh = 0.0
        self._points = [0.0, 0.0]
        self._energy_wh = [0.0, 0.0]
        # Of discharges: weight, A, V, A*A, A*V.
        self._sag = [0.0] * 5

    def observe(
        self,
        battery_w: float | None,
        voltage_v: float | None,
        soc: float | None,
        hours: float,
    ) -> None:
        """Take means over a stretch; `soc` is the gauge at its end, None without one."""
        if voltage_v is not None and battery_w is not None and battery_w < 0.0:
            current_a = -battery_w / voltage_v
            row = (
                1.0,
                current_a,
                voltage_v,
                current_a * current_a,
                current_a * voltage_v,
            )
            self._sag = [
                _FADE * old + new for old, new in zip(self._sag, row, strict=True)
            ]
        if battery_w is None or soc is None:
            self._start_soc = None
            return
        if self._start_soc is None:
            self._begin(soc)
            return
        self._in_wh += max(battery_w, 0.0) * hours
        self._out_wh += max(-battery_w, 0.0) * hours
        into = self._in_wh > self._out_wh
        most, least = max(self._in_wh, self._out_wh), min(self._in_wh, self._out_wh)
        if least > _ONE_WAY_SHARE * most and most > 0.0:
            self._begin(soc)
            return
        change = soc - self._start_soc
        if abs(change) >= _SPAN_POINTS and (change > 0.0) == into:
            if max(soc, self._start_soc) < 98.0:
                self._learn(int(into), abs(change), most - least)
            self._begin(soc)

    def _begin(self, soc: float) -> None:
        self._start_soc, self._in_wh, self._out_wh = soc, 0.0, 0.0

    def _learn(self, which: int, points: float, energy_wh: float) -> None:
        self._points[which] += points
        self._energy_wh[which] += energy_wh
        if self._points[which] > _MOST_POINTS:
            fade = _MOST_POINTS / self._points[which]
            self._points[which] *= fade
            self._energy_wh[which] *= fade

    def load_voltage(self, bank: Bank) -> LoadVoltage:
        """Return the bank's voltage while it gives, nominal and stiff until known."""
        weight, current_a, voltage_v, aa, av = self._sag
        if weight < 1.0:
            return LoadVoltage(bank.nominal_voltage_v)
        mean_a, mean_v = current_a / weight, voltage_v / weight
        variance = aa / weight - mean_a**2
        ohm = 0.0
        if weight > _LEAST_DISCHARGES and variance > _LEAST_VARIANCE_A2:
            ohm = -(av / weight - mean_a * mean_v) / variance
        # A bank that loses more than a sixth of its voltage at half its capacity per
        # hour is none that cooks.
        most = bank.nominal_voltage_v / 6.0 / (0.5 * bank.capacity_ah)
        ohm = min(max(ohm, 0.0), most)
        return LoadVoltage(mean_v + ohm * mean_a, ohm)

    def point_energy(self, bank: Bank) -> PointEnergy:
        """Return the energy of one percent, what was learnt drawn to what is stated."""
        stated = stated_point_energy(bank, self._usual_voltage_v())
        return PointEnergy(
            self._drawn_to(stated.discharge_wh, 0), self._drawn_to(stated.charge_wh, 1)
        )

    def _usual_voltage_v(self) -> float | None:
        weight, _, voltage_v, _, _ = self._sag
        return voltage_v / weight if weight >= 1.0 else None

    def _drawn_to(self, stated_wh: float, which: int) -> float:
        total = self._energy_wh[which] + stated_wh * _PRIOR_POINTS
        found = total / (self._points[which] + _PRIOR_POINTS)
        low, high = _RANGE
        return min(max(found, low * stated_wh), high * stated_wh)

    def snapshot(self) -> BankMeterState:
        """Return the state, JSON-able."""
        weight, a, v, aa, av = self._sag
        return {
            "start_soc": self._start_soc,
            "in_out": (self._in_wh, self._out_wh),
            "points": (self._points[0], self._points[1]),
            "energy_wh": (self._energy_wh[0], self._energy_wh[1]),
            "sag": (weight, a, v, aa, av),
        }

    def restore(self, state: BankMeterState) -> None:
        """Take a state that `snapshot` gave."""
        self._start_soc = state["start_soc"]
        self._in_wh, self._out_wh = state["in_out"]
        self._points = list(state["points"])
        self._energy_wh = list(state["energy_wh"])
        self._sag = list(state["sag"])
