"""What may be wrong with a boat description, told to the person who wrote it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
import re
from typing import Any, Final

import voluptuous as vol

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

    `path` leads to the field, list positions counted from 0; `message` is one line that
    names the value and what is allowed.
    """

    path: Path
    fault: Fault
    message: str

    def __str__(self) -> str:
        """Return the one line, field first."""
        where = path_text(self.path)
        return f"{where}: {self.message}" if where else self.message


class BoatError(ValueError):
    """A boat description that cannot be used.

    Its text is one line about the first problem; `problems` has them all.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Keep the problems, of which there is at least one."""
        super().__init__(str(problems[0]))
        self.problems = tuple(problems)


class FieldInvalid(vol.Invalid):
    """What a validator of ours raises; the schema library adds the path to it."""

    def __init__(
        self, fault: Fault, message: str, path: Iterable[str | int] = ()
    ) -> None:
        """Name the fault and say in one line what is wrong and what is allowed."""
        super().__init__(message, list(path))
        self.fault = fault


def shown(value: Any) -> str:
    """Return a value as it may stand in a one-line message."""
    if value is None:
        text = "nothing"
    elif isinstance(value, int) and value.bit_length() > _LONGEST_SHOWN * 3:
        text = "a huge number"
    elif isinstance(value, float):
        # Every number of a form is one; nobody typed its ".0".
        text = repr(value).removesuffix(".0")
    elif isinstance(value, (str, bool, int)):
        text = repr(value)
    elif isinstance(value, dict):
        text = "a mapping"
    elif isinstance(value, (list, tuple)):
        text = "a list"
    else:
        text = " ".join(str(value).split())
    if len(text) > _LONGEST_SHOWN:
        text = f"{text[: _LONGEST_SHOWN - 1]}…"
    return text


def path_text(path: Iterable[Any]) -> str:
    """Return a path as a person writes it: `appliances[2].circuit`."""
    text = ""
    for step in path:
        if isinstance(step, int) and not isinstance(step, bool):
            text += f"[{step}]"
            continue
        name = str(step)
        if not _PLAIN_KEY.fullmatch(name):
            name = shown(step)
        text += f".{name}" if text else name
    return text


def problems_in(error: vol.Invalid) -> list[Problem]:
    """Return every problem that an error of the schema library stands for."""
    if isinstance(error, vol.MultipleInvalid):
        return [problem for one in error.errors for problem in problems_in(one)]
    fault = Fault.NOT_ALLOWED
    if isinstance(error, FieldInvalid):
        fault = error.fault
    elif isinstance(error, vol.RequiredFieldInvalid):
        fault = Fault.MISSING
    path = tuple(
        step if isinstance(step, int) and not isinstance(step, bool) else str(step)
        for step in error.path
    )
    return [Problem(path, fault, error.error_message)]
