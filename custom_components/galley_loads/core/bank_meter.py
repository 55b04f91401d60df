"""How much energy one percent of the bank is, learnt from its gauge and its power.

A plate's ampere-hours times nominal volts is only nearly what a percent holds: the
voltage under load differs, banks age, charge is not all given back. Long one-way spans
between two gauge readings tell it for discharge and for charge apart.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from .bank import charge_efficiency
from .boat import Bank

_SPAN_POINTS: Final = 8.0
_ONE_WAY_SHARE: Final = 0.1
_PRIOR_POINTS: Final = 40.0
_MOST_POINTS: Final = 400.0
_RANGE: Final = (0.7, 1.3)
_CHARGING_VOLTAGE_RATIO: Final = 1.02


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


class BankMeter:
    """Learns the energy of one percent, and the bank's usual voltage under load."""

    def __init__(self) -> None:
        """Start with nothing learnt."""
        self._start_soc: float | None = None
        self._in_wh = 0.0
        self._out_wh = 0.0
        self._points = [0.0, 0.0]
        self._energy_wh = [0.0, 0.0]
        self._voltage_v: float | None = None

    def observe(
        self,
        battery_w: float | None,
        voltage_v: float | None,
        soc: float | None,
        hours: float,
    ) -> None:
        """Take means over a stretch; `soc` is the gauge at its end, None without one."""
        if voltage_v is not None and (battery_w or 0.0) < 0.0:
            known = self._voltage_v
            self._voltage_v = (
                voltage_v if known is None else known + 0.01 * (voltage_v - known)
            )
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

    def voltage_v(self, bank: Bank) -> float:
        """Return the bank's usual voltage while it gives, nominal until known."""
        return self._voltage_v or bank.nominal_voltage_v

    def point_energy(self, bank: Bank) -> PointEnergy:
        """Return the energy of one percent, what was learnt drawn to what is stated."""
        stated = stated_point_energy(bank, self._voltage_v)
        return PointEnergy(
            self._drawn_to(stated.discharge_wh, 0), self._drawn_to(stated.charge_wh, 1)
        )

    def _drawn_to(self, stated_wh: float, which: int) -> float:
        total = self._energy_wh[which] + stated_wh * _PRIOR_POINTS
        found = total / (self._points[which] + _PRIOR_POINTS)
        low, high = _RANGE
        return min(max(found, low * stated_wh), high * stated_wh)

    def snapshot(self) -> dict[str, Any]:
        """Return the state, JSON-able."""
        return {
            "start_soc": self._start_soc,
            "in_out": [self._in_wh, self._out_wh],
            "points": list(self._points),
            "energy_wh": list(self._energy_wh),
            "voltage_v": self._voltage_v,
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take a state that `snapshot` gave."""
        self._start_soc = state["start_soc"]
        self._in_wh, self._out_wh = state["in_out"]
        self._points = list(state["points"])
        self._energy_wh = list(state["energy_wh"])
        self._voltage_v = state["voltage_v"]
