"""Questions to the crew, and answers that may come late, twice, or from nowhere.

An answer counts once, and only for a question that is still open. A question's token is
the only way to answer it; it is made anew for every question, cannot be guessed, and is
saved with the question, so that a restart between question and answer loses neither.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from enum import StrEnum
import hmac
from typing import Final

from ..stateful import Row, from_row, row

_MOST_OPEN: Final = 32


@dataclass(frozen=True, slots=True)
class Question:
    """An open question about a subject (a circuit's name), with its one-time token."""

    token: str
    subject: str
    asked_s: float
    expires_s: float


class AnswerProblem(StrEnum):
    """Why an answer does not count."""

    UNKNOWN = "unknown"
    EXPIRED = "expired"


type QuestionsState = list[Row]
"""What `Questions` saves: the open ones."""


class Questions:
    """The open questions, at most one per subject."""

    def __init__(self, new_token: Callable[[], str]) -> None:
        """Ask with tokens from `new_token`, which must be unguessable and never repeat."""
        self._new_token = new_token
        self._open: dict[str, Question] = {}

    def ask(self, subject: str, at_s: float, lasts_s: float) -> Question:
        """Open a question; an older one about the same subject is closed."""
        self._open.pop(subject, None)
        while len(self._open) >= _MOST_OPEN:
            self._open.pop(next(iter(self._open)))
        question = Question(self._new_token(), subject, at_s, at_s + lasts_s)
        self._open[subject] = question
        return question

    def answer(self, token: str, at_s: float) -> Question | AnswerProblem:
        """Take an answer: return its question, now closed, or why it does not count."""
        question = self.of(token)
        if question is None:
            return AnswerProblem.UNKNOWN
        del self._open[question.subject]
        if at_s >= question.expires_s:
            return AnswerProblem.EXPIRED
        return question

    def of(self, token: str) -> Question | None:
        """Return the open question that a token answers, None if there is none."""
        for question in self._open.values():
            if hmac.compare_digest(question.token.encode(), token.encode()):
                return question
        return None

    def about(self, subject: str) -> Question | None:
        """Return the open question about a subject."""
        return self._open.get(subject)

    def close(self, subject: str) -> Question | None:
        """Close the question about a subject and return it, None if there was none."""
        return self._open.pop(subject, None)

    def close_all(self) -> list[Question]:
        """Close and return every question."""
        closed = list(self._open.values())
        self._open.clear()
        return closed

    def expire(self, at_s: float) -> list[Question]:
        """Close and return the questions that nobody answered in time."""
        late = [q for q in self._open.values() if at_s >= q.expires_s]
        for question in late:
            del self._open[question.subject]
        return late

    def snapshot(self) -> QuestionsState:
        """Return the open questions as JSON-able data."""
        return [row(question) for question in self._open.values()]

    def restore(self, state: QuestionsState, subjects: Collection[str]) -> None:
        """Take up questions from `snapshot`, except about subjects that are gone."""
        self._open = {}
        for one in state[-_MOST_OPEN:]:
            question = from_row(Question, one)
            if question.subject in subjects:
                self._open[question.subject] = question
