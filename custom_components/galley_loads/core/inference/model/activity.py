"""What inference says: who drew what, from when to when.

A `Segment` is a stretch of time in which every appliance's draw is stated once. Segments
follow each other without holes; together they are one hypothesis of the load.
"""

from dataclasses import dataclass
from enum import StrEnum

type RunKey = tuple[str, float]
"""An appliance's name and the start of its run."""


class Phase(StrEnum):
    """What a running appliance is doing."""

    HEATING = "heating"
    HOLDING = "holding"


@dataclass(frozen=True, slots=True)
class Activity:
    """One appliance within one segment.

    `power_w` is its mean AC-side draw; it is 0 in a pause within a run (a lifted pan, a
    thermostat's off time). `run_start_s` names the run: two runs that touch differ in it.
    `confidence` is how sure it is, 0 to 1, that this run is this appliance's.
    """

    appliance: str
    run_start_s: float
    power_w: float
    phase: Phase
    confidence: float

    @property
    def run(self) -> RunKey:
        """What distinguishes its run from all others."""
        return self.appliance, self.run_start_s


@dataclass(frozen=True, slots=True)
class Segment:
    """All that drew between two moments, background and standby aside.

    `unnamed_w` is the draw of loads that nobody named; what remains of the measured load
    belongs to the background and to standby.
    """

    start_s: float
    end_s: float
    activities: tuple[Activity, ...] = ()
    unnamed_w: float = 0.0


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """One phase of a run."""

    phase: Phase
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Run:
    """One appliance from start to end, pauses within included.

    `energy_wh` is on the AC side. `bank_ah` is what the run took at the bank, conversion
    loss included; `drawn_ah` the part of it that came out of the bank; `solar_wh` the part
    of the energy that came straight from the sun.
    """

    appliance: str
    start_s: float
    end_s: float
    energy_wh: float
    peak_w: float
    confidence: float
    phases: tuple[PhaseSpan, ...]
    bank_ah: float = 0.0
    drawn_ah: float = 0.0
    solar_wh: float = 0.0
