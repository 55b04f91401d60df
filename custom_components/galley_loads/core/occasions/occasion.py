"""What there may be to say: occasions, and the messages that come of them.

A rule does not send anything. It tells which occasions stand at a moment; the desk says
each of them once and takes it back when it no longer stands.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class AlertKind(StrEnum):
    """The kinds of alert; each can be chosen or left out."""

    STANDBY_LEFT_ON = "standby_left_on"
    FINISHED = "finished"
    AT_TEMPERATURE = "at_temperature"
    TIMER_OVER = "timer_over"
    LEFT_RUNNING = "left_running"
    MEAL_FINISHED = "meal_finished"
    RESERVE_AT_RISK = "reserve_at_risk"
    OVERLOAD_NEAR = "overload_near"
    SUN_GONE = "sun_gone"
    READINGS_LOST = "readings_lost"
    CUT_FAILED = "cut_failed"


URGENT: Final = frozenset(
    {
        AlertKind.TIMER_OVER,
        AlertKind.LEFT_RUNNING,
        AlertKind.RESERVE_AT_RISK,
        AlertKind.OVERLOAD_NEAR,
        AlertKind.READINGS_LOST,
        AlertKind.CUT_FAILED,
    }
)
"""Kinds that are said in quiet hours too."""


@dataclass(frozen=True, slots=True)
class Occasion:
    """Something that is so at the moment and worth saying.

    `subject` is what it is about (an appliance, a circuit, a limit; "" for the boat).
    `key` tells this occasion from other ones of the same kind and subject: a run's start,
    a meal's end. `token` is that of the open question which the message may answer.
    """

    kind: AlertKind
    subject: str
    key: str
    title: str
    message: str
    token: str | None = None

    @property
    def tag(self) -> str:
        """What messages that replace each other have in common."""
        return f"{self.kind.value}:{self.subject}"


@dataclass(frozen=True, slots=True)
class Say:
    """Send a message; it replaces an earlier one with the same tag."""

    tag: str
    kind: AlertKind
    subject: str
    title: str
    message: str
    urgent: bool
    token: str | None = None


@dataclass(frozen=True, slots=True)
class Clear:
    """Take back the message with this tag: it is over."""

    tag: str


type Message = Say | Clear
