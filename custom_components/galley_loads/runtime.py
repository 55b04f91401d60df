"""The parts of one loaded boat, as its config entry holds them.

`__init__` builds them and hands each the others that it uses. Platforms, actions and
entities read them here; no part looks another one up.
"""

from dataclasses import dataclass

from homeassistant.config_entries import ConfigEntry

from .advice.advice_runner import AdviceRunner
from .coordinator import GalleyCoordinator
from .meals.expected_meal import ExpectedMeal
from .past.backfill import Backfill
from .state.meal_store import MealStore
from .state.savings import Savings
from .watch.appliance_timers import ApplianceTimers
from .watch.circuit_cutting import CircuitCutting
from .watch.event_reports import EventReports
from .watch.galley_watch import GalleyWatch
from .watch.learn_mode import LearnMode
from .watch.occurrence_reports import OccurrenceReports


@dataclass(frozen=True, slots=True)
class GalleyRuntime:
    """The parts of one boat; `boat_device_id` is the device that parts hang on."""

    coordinator: GalleyCoordinator
    boat_device_id: str
    meals: MealStore
    advice: AdviceRunner
    expected: ExpectedMeal
    watch: GalleyWatch
    circuits: CircuitCutting
    savings: Savings
    timers: ApplianceTimers
    occurrences: OccurrenceReports
    reports: EventReports
    learn: LearnMode
    backfill: Backfill


type GalleyConfigEntry = ConfigEntry[GalleyRuntime]
