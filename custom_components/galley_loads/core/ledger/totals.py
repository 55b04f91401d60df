"""Counters of settled energy. They only ever rise."""

from dataclasses import dataclass, field
from typing import TypedDict

from ..stateful import checked
from .account import Flow


class TotalsState(TypedDict):
    """What `Totals` are stored as."""

    load_wh: float
    background_wh: float
    unassigned_wh: float
    appliance_wh: dict[str, float]
    standby_wh: dict[str, float]
    bank_ah: float
    drawn_ah: float
    galley_solar_wh: float
    solar_wh: float
    unmeasured_s: float
    measured_s: float


@dataclass(slots=True)
class Totals:
    """Everything that was ever settled, Wh on the AC side unless named otherwise."""

    load_wh: float = 0.0
    background_wh: float = 0.0
    unassigned_wh: float = 0.0
    appliance_wh: dict[str, float] = field(default_factory=dict)
    standby_wh: dict[str, float] = field(default_factory=dict)
    bank_ah: float = 0.0
    drawn_ah: float = 0.0
    galley_solar_wh: float = 0.0
    solar_wh: float = 0.0
    unmeasured_s: float = 0.0
    measured_s: float = 0.0

    @property
    def galley_wh(self) -> float:
        """What the galley took: runs and standby."""
        return sum(self.appliance_wh.values()) + sum(self.standby_wh.values())

    def add(self, flow: Flow) -> None:
        """Count one settled span."""
        self.load_wh += flow.load_wh
        self.background_wh += flow.background_wh
        self.unassigned_wh += flow.unassigned_wh
        self.solar_wh += flow.solar_wh
        self.unmeasured_s += flow.unmeasured_s
        self.measured_s += flow.end_s - flow.start_s - flow.unmeasured_s
        for (name, _), share in flow.runs.items():
            self.appliance_wh[name] = self.appliance_wh.get(name, 0.0) + share.energy_wh
            self.bank_ah += share.bank_ah
            self.drawn_ah += share.drawn_ah
            self.galley_solar_wh += share.solar_wh
        for name, energy_wh in flow.standby_wh.items():
            self.standby_wh[name] = self.standby_wh.get(name, 0.0) + energy_wh

    def as_mapping(self) -> TotalsState:
        """Return the counters as plain data."""
        return {
            "load_wh": self.load_wh,
            "background_wh": self.background_wh,
            "unassigned_wh": self.unassigned_wh,
            "appliance_wh": dict(self.appliance_wh),
            "standby_wh": dict(self.standby_wh),
            "bank_ah": self.bank_ah,
            "drawn_ah": self.drawn_ah,
            "galley_solar_wh": self.galley_solar_wh,
            "solar_wh": self.solar_wh,
            "unmeasured_s": self.unmeasured_s,
            "measured_s": self.measured_s,
        }

    @classmethod
    def from_mapping(cls, state: object) -> Totals:
        """Return the counters that `as_mapping` wrote, which stays as it is.

        Raises:
            StateError: it did not write them.
        """
        return cls(**checked(TotalsState, state))
