"""A phrase of the core becomes a sentence of a language."""

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, tzinfo
from typing import Final

from ..core.phrase import Phrase, Value
from .conventions import Conventions
from .phrasebook import Phrasebook, Place, Template, read_phrasebook
from .plurals import OTHER, plural_form

NOW: Final = "now_s"
"""The value that every phrase with a clock time has: the present that it is said in."""

WAYS_OF_NUMBERS: Final[Mapping[str, Callable[[Conventions, float], str]]] = {
    "age": Conventions.age,
    "ampere_hours": Conventions.ampere_hours,
    "chance": Conventions.chance,
    "charge": Conventions.charge,
    "day_time": Conventions.day_time,
    "duration": Conventions.duration,
    "energy": Conventions.energy,
    "number": Conventions.number,
    "one_decimal": lambda conventions, value: conventions.fixed(value, 1),
    "percent": Conventions.percent,
    "whole": Conventions.whole,
}
"""How a number is written, by the word in its place; a text or a phrase has none."""

WAYS_OF_TEXTS: Final = ("", "capital", "all", "sentences")
"""As it is; with a capital first letter; a list of what holds together; one after another."""

WAYS_OF_TIMES: Final[Mapping[str, Callable[[Conventions, float, tzinfo], str]]] = {
    "date": Conventions.date,
    "time": Conventions.time,
}
"""How a Unix time is written on the boat's clock, whenever that is read."""

CLOCK: Final = "clock"
"""A Unix time that names the day only where it is not the day of `NOW`."""


class Speech:
    """Says phrases in one language, with times on one clock."""

    def __init__(self, phrasebook: Phrasebook, zone: tzinfo = UTC) -> None:
        """Take the language and the boat's time zone."""
        self._language = phrasebook.language
        self._conventions = phrasebook.conventions
        self._entries = phrasebook.entries
        self._zone = zone

    def say(self, phrase: Phrase) -> str:
        """Return the sentence of a phrase.

        Raises:
            KeyError: the language has no such sentence, or a value is missing.
        """
        entry = self._entries[phrase.key]
        form = OTHER
        if entry.by:
            form = plural_form(self._language, _number(phrase.values[entry.by]))
        return self._filled(entry.forms[form], phrase.values)

    def say_all(self, phrases: Iterable[Phrase]) -> list[str]:
        """Return the sentences of several phrases."""
        return [self.say(phrase) for phrase in phrases]

    def _filled(self, template: Template, values: Mapping[str, Value]) -> str:
        return "".join(
            f"{place.before}{self._value(place, values) if place.name else ''}"
            for place in template
        )

    def _value(self, place: Place, values: Mapping[str, Value]) -> str:
        value = values[place.name]
        if place.way == CLOCK:
            now_s = _number(values[NOW])
            return self._conventions.clock(_number(value), now_s, self._zone)
        if place.way in WAYS_OF_TIMES:
            return WAYS_OF_TIMES[place.way](
                self._conventions, _number(value), self._zone
            )
        if place.way in WAYS_OF_NUMBERS:
            return WAYS_OF_NUMBERS[place.way](self._conventions, _number(value))
        parts = self._texts(value)
        match place.way:
            case "all":
                return self._conventions.both(parts)
            case "sentences":
                return " ".join(parts)
            case "capital":
                text = ", ".join(parts)
                return f"{text[:1].upper()}{text[1:]}"
            case "":
                return ", ".join(parts)
        raise ValueError(f"{place.way} is no way to write a value")

    def _texts(self, value: Value) -> list[str]:
        if isinstance(value, tuple):
            return [text for one in value for text in self._texts(one)]
        return [self.say(value) if isinstance(value, Phrase) else str(value)]


def _number(value: Value) -> float:
    if isinstance(value, (int, float)):
        return value
    raise TypeError(f"{value!r} is no number")


ENGLISH: Final = read_phrasebook("en")
"""Read with the module, so that nobody waits for a file later on."""


def english(zone: tzinfo = UTC) -> Speech:
    """Return English, on a boat's clock."""
    return Speech(ENGLISH, zone)
