"""What is known now: the best explanation so far, settled or not."""

from dataclasses import dataclass
from enum import StrEnum

from ..meals.meal_builder import Meal
from ..metering.clock_steps import ClockSet
from ..metering.source import Complaint
from ..phrase import Phrase


class ApplianceState(StrEnum):
    """What an appliance does right now."""

    OFF = "off"
    HEATING = "heating"
    HOLDING = "holding"
    STANDBY = "standby"


@dataclass(frozen=True, slots=True)
class ApplianceNow:
    """One appliance at this moment.

    `run_start_s`, `run_energy_wh` and `confidence` belong to the run in progress and are
    None, 0 and 0 without one. `may_resume` says of an appliance without one that its last
    run is probably over, but fell silent in a way in which it also pauses. A run that is
    `paused` draws nothing and is expected to go on. With `is_mean` the power is the mean
    over a cycle of pulses. `corrected_from` has the name under which this run was shown
    until this very moment, None mostly.
    """

    name: str
    state: ApplianceState
    power_w: float
    run_start_s: float | None = None
    run_energy_wh: float = 0.0
    confidence: float = 0.0
    may_resume: bool = False
    paused: bool = False
    is_mean: bool = False
    corrected_from: str | None = None

    @property
    def running(self) -> bool:
        """Whether a run is going on, pauses within included."""
        return self.run_start_s is not None

    @property
    def perhaps_running(self) -> bool:
        """Whether a run is going on, or may be: what must be safe asks for this."""
        return self.running or self.may_resume


@dataclass(frozen=True, slots=True)
class NameChance:
    """A name that what is being recognised may get, with its chance."""

    appliance: str
    chance: float


@dataclass(frozen=True, slots=True)
class LiveView:
    """The boat at this moment; None where something is not measured or not known.

    `standby_at_least` says that something live is of unknown standby: `standby_w` is what
    is known of it then, and None where nothing is. `candidates` are the names that what is
    being recognised may get, the likeliest first; its power is part of `unassigned_w`.
    """

    at_s: float
    load_w: float | None
    galley_w: float | None
    background_w: float | None
    unassigned_w: float | None
    standby_w: float | None
    solar_w: float | None
    battery_w: float | None
    voltage_v: float | None
    soc: float | None
    appliances: tuple[ApplianceNow, ...]
    current_meal: Meal | None
    last_meal: Meal | None
    missing: tuple[Complaint, ...] = ()
    clock_set: ClockSet | None = None
    standby_at_least: bool = False
    candidates: tuple[NameChance, ...] = ()

    @property
    def complaints(self) -> tuple[Phrase, ...]:
        """One sentence for every sensor that is missing."""
        return tuple(complaint.said for complaint in self.missing)

    @property
    def cooking(self) -> bool:
        """Whether a meal is being cooked: one of its runs is going on."""
        return self.current_meal is not None and any(
            now.running and now.name in self.current_meal.appliances
            for now in self.appliances
        )

    def appliance(self, name: str) -> ApplianceNow:
        """Return the appliance of that name; KeyError if there is none."""
        for now in self.appliances:
            if now.name == name:
                return now
        raise KeyError(name)
