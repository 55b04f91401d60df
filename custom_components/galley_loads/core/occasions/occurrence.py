"""What an occurrence is: the one thing that events and messages are made of."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

type Fact = str | float | tuple[str, ...] | None


class OccurrenceKind(StrEnum):
    """What may occur."""

    STANDBY_LEFT_ON = "standby_left_on"
    STARTED = "started"
    FINISHED = "finished"
    AT_TEMPERATURE = "at_temperature"
    TIMER_OVER = "timer_over"
    LEFT_RUNNING = "left_running"
    MEAL_FINISHED = "meal_finished"
    HOT_DRINK_FINISHED = "hot_drink_finished"
    ADVICE_CHANGED = "advice_changed"
    RESERVE_AT_RISK = "reserve_at_risk"
    OVERLOAD_NEAR = "overload_near"
    SUN_GONE = "sun_gone"
    READINGS_LOST = "readings_lost"
    CUT_FAILED = "cut_failed"


OF_RUNS: Final = frozenset(
    {
        OccurrenceKind.STARTED,
        OccurrenceKind.AT_TEMPERATURE,
        OccurrenceKind.FINISHED,
        OccurrenceKind.LEFT_RUNNING,
    }
)
"""Kinds that are about a run; their subject is an appliance, their key names the run."""


@dataclass(frozen=True, slots=True)
class Occurrence:
    """Something that has occurred and still matters.

    `subject` is what it is about: an appliance, a circuit, a limit, a meal's label, a dish;
    "" for the boat. `key` tells it from others of the same kind and subject: a run's start,
    a meal's start, when a circuit fell idle. `at_s` is when it came about, Unix time.
    `certainty` (0 to 1) is how sure it is that it did. `variant` names the sort of it where
    there are several. `facts` are names and numbers with the unit in the name.
    """

    kind: OccurrenceKind
    subject: str
    key: str
    at_s: float
    certainty: float
    facts: Mapping[str, Fact] = field(default_factory=dict)
    variant: str = ""

    @property
    def identity(self) -> str:
        """What stays the same as long as it is the same occurrence."""
        return f"{self.kind.value}|{self.subject}|{self.key}"

    def number(self, name: str) -> float:
        """Return a fact that is a number; KeyError or TypeError if it is none."""
        value = self.facts[name]
        if not isinstance(value, int | float):
            raise TypeError(f"{self.kind.value}: {name} is {value!r}, not a number")
        return value

    def maybe(self, name: str) -> float | None:
        """Return a fact that is a number, None where it is not known."""
        return None if self.facts.get(name) is None else self.number(name)

    def names(self, name: str) -> list[str]:
        """Return a fact that is a list of names."""
        value = self.facts.get(name)
        return list(value) if isinstance(value, tuple) else []

    def text(self, name: str) -> str | None:
        """Return a fact that is a name or another key, None where there is none."""
        value = self.facts.get(name)
        return value if isinstance(value, str) else None
