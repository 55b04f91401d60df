"""What a person is to read, as a key and numbers.

No sentence is put together in the core. It says which sentence is meant and gives what
varies in it; the room of languages beside the core makes the sentence. A value's name ends
with its unit, and times are Unix seconds.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

type Value = str | int | float | Phrase | tuple[str | Phrase, ...]
"""A name or quoted text, a number, a phrase within the phrase, or a list of them."""

_KEY: Final = "key"


@dataclass(frozen=True, slots=True)
class Phrase:
    """One thing to be said: `key` is that of the catalogues, `values` fill its places."""

    key: str
    values: Mapping[str, Value] = field(default_factory=dict, hash=False)

    def __str__(self) -> str:
        """Return key and values, for developers alone."""
        if not self.values:
            return self.key
        inside = ", ".join(f"{name}={_short(v)}" for name, v in self.values.items())
        return f"{self.key}({inside})"

    def as_plain(self) -> dict[str, Any]:
        """Return it as data fit for JSON."""
        return {_KEY: self.key} | {n: _plain(v) for n, v in self.values.items()}

    @classmethod
    def from_plain(cls, state: Mapping[str, Any]) -> Phrase:
        """Return what `as_plain` gave."""
        values = {name: _value(v) for name, v in state.items() if name != _KEY}
        return cls(state[_KEY], values)


def phrase(key: str, /, **values: Value) -> Phrase:
    """Return the phrase of a key with its values.

    The key is written out at each call: a test compares keys and values with the
    catalogues.
    """
    return Phrase(key, values)


class PhrasedError(ValueError):
    """Something given that cannot be used; `phrase` is what a person is told about it."""

    def __init__(self, phrase: Phrase) -> None:
        """Keep what is to be said."""
        super().__init__(str(phrase))
        self.phrase = phrase


def names_or_none(names: Iterable[str]) -> tuple[str | Phrase, ...]:
    """Return a list of names, or that there is none."""
    return tuple(names) or (phrase("problem.has_none"),)


def _short(value: Value) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(_short(one) for one in value)}]"
    return str(value) if isinstance(value, Phrase) else repr(value)


def _plain(value: Value) -> Any:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value.as_plain() if isinstance(value, Phrase) else value


def _value(state: Any) -> Any:
    if isinstance(state, list):
        return tuple(_value(one) for one in state)
    return Phrase.from_plain(state) if isinstance(state, Mapping) else state
