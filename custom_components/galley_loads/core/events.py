"""What the engine tells: only what is settled, and therefore never taken back."""

from dataclasses import dataclass

from .inference.model.activity import Run, Segment
from .ledger.account import Flow
from .meals.meal_builder import Meal


@dataclass(frozen=True, slots=True)
class SpanSettled:
    """A stretch of time is accounted for."""

    segment: Segment
    flow: Flow


@dataclass(frozen=True, slots=True)
class RunSettled:
    """A run is over and will not change any more."""

    run: Run


@dataclass(frozen=True, slots=True)
class MealSettled:
    """A meal is over and nothing can join it any more."""

    meal: Meal


type Event = SpanSettled | RunSettled | MealSettled
