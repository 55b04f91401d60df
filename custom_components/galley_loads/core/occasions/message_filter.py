"""What becomes a message to a person: each occasion once, taken back when it is over."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final, TypedDict
from zoneinfo import ZoneInfo

from ..boat.quiet_hours import QuietHours
from .circuit_occurrences import NOT_ASKED
from .event_filter import RUN_CERTAINTY, is_unattended
from .occurrence import Occurrence, OccurrenceKind

MESSAGE_KINDS: Final = (
    OccurrenceKind.STANDBY_LEFT_ON,
    OccurrenceKind.FINISHED,
    OccurrenceKind.AT_TEMPERATURE,
    OccurrenceKind.TIMER_OVER,
    OccurrenceKind.LEFT_RUNNING,
    OccurrenceKind.MEAL_FINISHED,
    OccurrenceKind.RESERVE_AT_RISK,
    OccurrenceKind.OVERLOAD_NEAR,
    OccurrenceKind.SUN_GONE,
    OccurrenceKind.READINGS_LOST,
    OccurrenceKind.CUT_FAILED,
)
"""Kinds that a person may be sent; each can be chosen or left out. In the order of the
options form."""

URGENT: Final = frozenset(
    {
        OccurrenceKind.TIMER_OVER,
        OccurrenceKind.LEFT_RUNNING,
        OccurrenceKind.RESERVE_AT_RISK,
        OccurrenceKind.OVERLOAD_NEAR,
        OccurrenceKind.READINGS_LOST,
        OccurrenceKind.CUT_FAILED,
    }
)
"""Kinds that are sent in quiet hours too."""

_MEAL_LEAST_WH: Final = 30.0
_MEAL_CERTAINTY: Final = 0.6
"""A meal of which nobody knows whether anything was cooked is in the book; nobody is sent
a message about it."""

_MOST_KEPT: Final = 500


@dataclass(frozen=True, slots=True)
class Say:
    """Send a message about an occurrence; it replaces an earlier one with the same tag.

    The words are made of the occurrence where it is sent.
    """

    tag: str
    occurrence: Occurrence
    urgent: bool

    @property
    def kind(self) -> OccurrenceKind:
        """What kind of occurrence it is about."""
        return self.occurrence.kind

    @property
    def subject(self) -> str:
        """What it is about: an appliance, a circuit, a limit; "" for the boat."""
        return self.occurrence.subject

    @property
    def token(self) -> str | None:
        """The token of the open question that the message may answer."""
        return self.occurrence.text("token")


@dataclass(frozen=True, slots=True)
class Clear:
    """Take back the message with this tag: it is over."""

    tag: str


type Message = Say | Clear


class KeptMessages(TypedDict):
    """What is kept: which occasions were sent, and which message stands under each tag."""

    sent: list[str]
    shown: dict[str, str]


class MessageFilter:
    """Turns what has occurred into messages.

    What quiet hours hold back is sent when they end, if it still matters then.
    """

    def __init__(
        self,
        time_zone: ZoneInfo,
        kinds: Collection[OccurrenceKind] = frozenset(MESSAGE_KINDS),
        quiet_hours: QuietHours | None = None,
    ) -> None:
        """Send messages of the chosen kinds; `time_zone` is the boat's."""
        self._time_zone = time_zone
        self._kinds = frozenset(kinds) & frozenset(MESSAGE_KINDS)
        self._quiet_hours = quiet_hours
        self._sent: dict[str, None] = {}
        self._shown: dict[str, str] = {}

    def observe(self, at_s: float, occurrences: Iterable[Occurrence]) -> list[Message]:
        """Take all that matters at a moment; return the messages to send."""
        quiet = self._quiet_hours is not None and self._quiet_hours.hold(
            at_s, self._time_zone
        )
        messages: list[Message] = []
        still: set[tuple[str, str]] = set()
        for occurrence in occurrences:
            if occurrence.kind not in self._kinds or not is_due(occurrence):
                continue
            tag, occasion = _tag(occurrence), _occasion(occurrence)
            still.add((tag, occasion))
            urgent = occurrence.kind in URGENT
            if occasion in self._sent or (quiet and not urgent):
                continue
            self._remember(occasion)
            self._shown[tag] = occasion
            messages.append(Say(tag, occurrence, urgent))
        for tag, occasion in list(self._shown.items()):
            if (tag, occasion) not in still:
                del self._shown[tag]
                messages.append(Clear(tag))
        return messages

    def _remember(self, occasion: str) -> None:
        self._sent[occasion] = None
        while len(self._sent) > _MOST_KEPT:
            del self._sent[next(iter(self._sent))]

    @property
    def shown(self) -> tuple[str, ...]:
        """The tags of messages that were sent and not taken back."""
        return tuple(self._shown)

    def snapshot(self) -> KeptMessages:
        """Return the state as JSON-able data."""
        return {"sent": list(self._sent), "shown": dict(self._shown)}

    def restore(self, state: KeptMessages) -> None:
        """Take up a state from `snapshot`."""
        self._sent = dict.fromkeys(state["sent"])
        self._shown = dict(state["shown"])


def is_due(occurrence: Occurrence) -> bool:
    """Return whether an occurrence is sure and weighty enough to disturb a person.

    Of a circuit that can be cut from here a person reads only when there is a question to
    answer; of an appliance's end only if nobody stood by.
    """
    match occurrence.kind:
        case OccurrenceKind.FINISHED:
            return occurrence.certainty >= RUN_CERTAINTY and is_unattended(occurrence)
        case OccurrenceKind.AT_TEMPERATURE | OccurrenceKind.LEFT_RUNNING:
            return occurrence.certainty >= RUN_CERTAINTY
        case OccurrenceKind.MEAL_FINISHED:
            return (
                occurrence.certainty >= _MEAL_CERTAINTY
                and occurrence.number("energy_wh") >= _MEAL_LEAST_WH
            )
        case OccurrenceKind.STANDBY_LEFT_ON:
            return occurrence.variant != NOT_ASKED
        case _:
            return True


def _tag(occurrence: Occurrence) -> str:
    """Return what messages that replace each other have in common."""
    meal = occurrence.kind is OccurrenceKind.MEAL_FINISHED
    return f"{occurrence.kind.value}:{'' if meal else occurrence.subject}"


def _occasion(occurrence: Occurrence) -> str:
    """Return what is sent once: the occurrence, and each question about it."""
    token = occurrence.text("token")
    return occurrence.identity if token is None else f"{occurrence.identity}|{token}"
