"""What was cut and what was not, and why: the last few hundred entries."""

from collections import deque
from dataclasses import dataclass
from typing import Final

from ..stateful import Row, from_row, row
from .outcomes import (
    AnswerRejected,
    Ask,
    Cut,
    Kept,
    NotVerified,
    Outcome,
    QuestionOver,
    Refused,
    Stuck,
    Verified,
)

MOST_ENTRIES: Final = 300


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One line: when, which circuit ("" if none), what happened, and why or by whom."""

    at_s: float
    circuit: str
    what: str
    why: str = ""


def entry_of(outcome: Outcome) -> LogEntry | None:
    """Return the line that an outcome leaves in the log; some leave none."""
    match outcome:
        case Cut(circuit, at_s, by):
            return LogEntry(at_s, circuit, "cut", by.value)
        case Ask(circuit, at_s):
            return LogEntry(at_s, circuit, "asked")
        case Refused(circuit, at_s, _, reason):
            return LogEntry(at_s, circuit, "refused", reason.value)
        case Verified(circuit, at_s, fell_w):
            why = "" if fell_w is None else f"{fell_w:.0f} W"
            return LogEntry(at_s, circuit, "verified", why)
        case NotVerified(circuit, at_s, why):
            return LogEntry(at_s, circuit, "not_verified", why.value)
        case Stuck(circuit, at_s, trouble):
            return LogEntry(at_s, circuit, "stuck", trouble.value)
        case Kept(circuit, at_s, _, switched_back):
            return LogEntry(
                at_s, circuit, "kept", "switched_back" if switched_back else ""
            )
        case AnswerRejected(at_s, problem):
            return LogEntry(at_s, "", "answer_rejected", problem.value)
        case QuestionOver():
            return None


type CutLogState = list[Row]
"""What `CutLog` saves: its entries, oldest first."""


class CutLog:
    """The bounded log, oldest first."""

    def __init__(self) -> None:
        """Start empty."""
        self._entries: deque[LogEntry] = deque(maxlen=MOST_ENTRIES)

    def add(self, outcome: Outcome) -> None:
        """Write down an outcome."""
        entry = entry_of(outcome)
        if entry is not None:
            self._entries.append(entry)

    @property
    def entries(self) -> tuple[LogEntry, ...]:
        """The lines, oldest first."""
        return tuple(self._entries)

    def snapshot(self) -> CutLogState:
        """Return the log as JSON-able data."""
        return [row(entry) for entry in self._entries]

    def restore(self, state: CutLogState) -> None:
        """Take up a log from `snapshot`."""
        self._entries = deque(
            (from_row(LogEntry, one) for one in state), maxlen=MOST_ENTRIES
        )
