"""Counters of settled energy. They only ever rise."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .account import Flow


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

    def as_mapping(self) -> dict[str, Any]:
        """Return the counters as plain data."""
        return {
            name: dict(value) if isinstance(value, dict) else value
            for name in self.__slots__
            for value in (getattr(self, name),)
        }

    @classmethod
    def from_mapping(cls, state: Mapping[str, Any]) -> Totals:
        """Return the counters that `as_mapping` wrote, which stays as it is."""
        own: dict[str, Any] = {
            name: dict(value) if isinstance(value, Mapping) else value
            for name, value in state.items()
        }
        return cls(**own)
