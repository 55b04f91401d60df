"""What the inverter takes from the bank for what it gives the galley.

Where both sides are metered the conversion is measured (`ConversionMeter`); otherwise a
loss curve stands in. The idle draw is there whether or not anybody cooks, so it belongs
to the background and never to a dish: `dish_dc_w` is a difference of two loads.
"""

from dataclasses import dataclass
import math
from typing import Final, TypedDict

from ..boat.boat import Inverter

CURVE_REFERENCE_EFFICIENCY: Final = 0.9637
_CURVE_FALL: Final = 0.0162
_CURVE_IDLE: Final = 0.0059
_CURVE_LEVEL: Final = 0.9858

_MEASURED_RANGE: Final = (0.75, 1.0)
_SPAN_S: Final = 300.0
_MIN_VARIANCE_W2: Final = 80.0**2
_MIN_SPANS: Final = 60.0
_FORGET: Final = 1.0 - 1.0 / 4000.0


@dataclass(frozen=True, slots=True)
class LossCurve:
    """Efficiency over load, the form of the PVWatts Version 5 Manual (A. Dobos, 2014).

    eta(z) = eta_nominal / 0.9637 * (-0.0162 z - 0.0059 / z + 0.9858), z = Pdc / Pdc0,
    Pdc0 = rated AC power / eta_nominal; output is limited to the rated power.
    """

    rated_ac_w: float
    nominal_efficiency: float = 0.96

    @property
    def rated_dc_w(self) -> float:
        """The DC power at rated output."""
        return self.rated_ac_w / self.nominal_efficiency

    @property
    def idle_w(self) -> float:
        """The DC draw at no load which the curve implies."""
        return self.dc_w(0.0)

    def ac_w(self, dc_w: float) -> float:
        """Return the AC power that a DC power makes; never below 0 nor above the rating."""
        z = dc_w / self.rated_dc_w
        scale = self.nominal_efficiency / CURVE_REFERENCE_EFFICIENCY
        share = scale * (-_CURVE_FALL * z * z + _CURVE_LEVEL * z - _CURVE_IDLE)
        return min(max(share * self.rated_dc_w, 0.0), self.rated_ac_w)

    def dc_w(self, ac_w: float) -> float:
        """Return the DC power that an AC load takes, idle included.

        The curve is a parabola in z; its lower root is the answer. A load above the
        rating is continued along the curve, and where the curve has no answer any more
        the nominal efficiency holds.
        """
        scale = self.nominal_efficiency / CURVE_REFERENCE_EFFICIENCY
        wanted = max(ac_w, 0.0) / (scale * self.rated_dc_w) + _CURVE_IDLE
        below_root = _CURVE_LEVEL**2 - 4.0 * _CURVE_FALL * wanted
        if below_root < 0.0:
            return ac_w / self.nominal_efficiency
        z = (_CURVE_LEVEL - math.sqrt(below_root)) / (2.0 * _CURVE_FALL)
        return z * self.rated_dc_w


@dataclass(frozen=True, slots=True)
class Conversion:
    """How AC power becomes bank power on this boat.

    `efficiency` is the slope that was measured or stated, None where only a curve is
    known; `idle_w` the DC draw at no load. `measured` says which.
    """

    efficiency: float | None
    idle_w: float
    curve: LossCurve | None = None
    measured: bool = False

    def dc_w(self, ac_w: float) -> float:
        """Return the bank power for an AC load, idle included."""
        if self.efficiency is not None:
            return self.idle_w + ac_w / self.efficiency
        return ac_w if self.curve is None else self.curve.dc_w(ac_w)

    def dish_dc_w(self, dish_ac_w: float, other_ac_w: float = 0.0) -> float:
        """Return what a dish adds at the bank while `other_ac_w` runs anyway."""
        if self.efficiency is not None:
            return dish_ac_w / self.efficiency
        return self.dc_w(other_ac_w + dish_ac_w) - self.dc_w(other_ac_w)


def stated_conversion(inverter: Inverter | None) -> Conversion:
    """Return the conversion by the boat file alone; a boat without inverter loses nothing."""
    if inverter is None:
        return Conversion(efficiency=1.0, idle_w=0.0)
    curve = LossCurve(inverter.continuous_power_w, inverter.conversion)
    idle_w = curve.idle_w if inverter.idle_power_w is None else inverter.idle_power_w
    return Conversion(inverter.efficiency, idle_w, curve)


class ConversionMeterState(TypedDict):
    """What `ConversionMeter` saves."""

    open: tuple[float, float, float]
    sums: tuple[float, float, float, float, float]


class ConversionMeter:
    """Measures the conversion where the AC load and the bank's side are both metered.

    Five-minute means of both sides make one point each (so clocks that differ by seconds
    do not matter); the slope of the line through them is bank power per AC power, and
    whatever hangs on the bank directly only moves the line up. Old points fade.
    """

    def __init__(self) -> None:
        """Start with no point."""
        self._open_s = 0.0
        self._ac_j = 0.0
        self._dc_j = 0.0
        self._sums = [0.0] * 5  # weight, ac, dc, ac*ac, ac*dc

    def observe(self, ac_w: float, dc_w: float, seconds: float) -> None:
        """Take a stretch in which both sides were known; dc_w is what the bank side gave."""
        self._open_s += seconds
        self._ac_j += ac_w * seconds
        self._dc_j += dc_w * seconds
        if self._open_s >= _SPAN_S:
            ac, dc = self._ac_j / self._open_s, self._dc_j / self._open_s
            point = (1.0, ac, dc, ac * ac, ac * dc)
            self._sums = [
                _FORGET * old + new for old, new in zip(self._sums, point, strict=True)
            ]
            self.interrupt()

    def interrupt(self) -> None:
        """Drop the open point: a side went missing."""
        self._open_s = self._ac_j = self._dc_j = 0.0

    def efficiency(self) -> float | None:
        """Return the measured conversion, None while too little has been seen."""
        weight, ac, dc, ac_ac, ac_dc = self._sums
        if weight < _MIN_SPANS:
            return None
        variance = ac_ac / weight - (ac / weight) ** 2
        covariance = ac_dc / weight - ac * dc / weight**2
        if variance < _MIN_VARIANCE_W2 or covariance <= 0.0:
            return None
        found = variance / covariance
        low, high = _MEASURED_RANGE
        return found if low <= found <= high else None

    def conversion(self, inverter: Inverter | None) -> Conversion:
        """Return the measured conversion, else the stated one."""
        stated = stated_conversion(inverter)
        measured = None if inverter is None else self.efficiency()
        if measured is None:
            return stated
        return Conversion(measured, stated.idle_w, stated.curve, measured=True)

    def snapshot(self) -> ConversionMeterState:
        """Return the state, JSON-able."""
        weight, ac, dc, ac_ac, ac_dc = self._sums
        return {
            "open": (self._open_s, self._ac_j, self._dc_j),
            "sums": (weight, ac, dc, ac_ac, ac_dc),
        }

    def restore(self, state: ConversionMeterState) -> None:
        """Take a state that `snapshot` gave."""
        self._open_s, self._ac_j, self._dc_j = state["open"]
        self._sums = list(state["sums"])
