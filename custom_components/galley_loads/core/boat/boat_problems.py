"""What may be wrong with a boat description, told to the person who wrote it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
import re
from typing import Any, Final

import voluptuous as vol

from ..phrase import Phrase, PhrasedError, phrase

# A value is shown as the person wrote it, but never at any length.
_LONGEST_SHOWN: Final = 60
_PLAIN_KEY: Final = re.compile(r"[A-Za-z_][A-Za-z0-9_ -]{0,40}")

type Path = tuple[str | int, ...]


class Fault(StrEnum):
    """Kinds of problem; a form has one translated text for each."""

    MISSING = "missing"
    UNKNOWN_KEY = "unknown_key"
    WRONG_TYPE = "wrong_type"
    OUT_OF_RANGE = "out_of_range"
    NOT_AN_ENTITY = "not_an_entity"
    WRONG_UNIT = "wrong_unit"
    NOT_ALLOWED = "not_allowed"
    NOT_A_TIME = "not_a_time"
    DUPLICATE = "duplicate"
    NO_LOAD = "no_load"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    `path` leads to the field, list positions counted from 0; `phrase` names the value and
    what is allowed.
    """

    path: Path
    fault: Fault
    phrase: Phrase

    @property
    def in_full(self) -> Phrase:
        """What is to be said, field first."""
        field = path_text(self.path)
        if not field:
            return self.phrase
        return phrase("boat.at_field", field=field, problem=self.phrase)


class BoatError(PhrasedError):
    """A boat description that cannot be used.

    Its phrase is about the first problem; `problems` has them all.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Keep the problems, of which there is at least one."""
        super().__init__(problems[0].in_full)
        self.problems = tuple(problems)


class FieldInvalid(vol.Invalid):
    """What a validator of ours raises; the schema library adds the path to it."""

    def __init__(
        self, fault: Fault, phrase: Phrase, path: Iterable[str | int] = ()
    ) -> None:
        """Name the fault, what is wrong and what is allowed."""
        super().__init__(str(phrase), list(path))
        self.fault = fault
        self.phrase = phrase


def shown(value: Any) -> str | Phrase:
    """Return a value as it may stand in a one-line message."""
    if value is None:
        return phrase("boat.nothing")
    if isinstance(value, int) and value.bit_length() > _LONGEST_SHOWN * 3:
        return phrase("boat.huge_number")
    if isinstance(value, dict):
        return phrase("boat.mapping")
    if isinstance(value, (list, tuple)):
        return phrase("boat.list")
    if isinstance(value, float):
        # Every number of a form is one; nobody typed its ".0".
        text = repr(value).removesuffix(".0")
    elif isinstance(value, (str, bool, int)):
        text = repr(value)
    else:
        text = " ".join(str(value).split())
    return _cut(text)


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_SHOWN else f"{text[: _LONGEST_SHOWN - 1]}…"


def path_text(path: Iterable[Any]) -> str:
    """Return a path as a person writes it: `appliances[2].circuit`."""
    text = ""
    for step in path:
        if isinstance(step, int) and not isinstance(step, bool):
            text += f"[{step}]"
            continue
        name = str(step)
        if not _PLAIN_KEY.fullmatch(name):
            name = _cut(repr(name))
        text += f".{name}" if text else name
    return text


def problems_in(error: vol.Invalid) -> list[Problem]:
    """Return every problem that an error of the schema library stands for."""
    if isinstance(error, vol.MultipleInvalid):
        return [problem for one in error.errors for problem in problems_in(one)]
    fault, said = Fault.NOT_ALLOWED, phrase("boat.other", text=error.error_message)
    if isinstance(error, FieldInvalid):
        fault, said = error.fault, error.phrase
    path = tuple(
        step if isinstance(step, int) and not isinstance(step, bool) else str(step)
        for step in error.path
    )
    return [Problem(path, fault, said)]
