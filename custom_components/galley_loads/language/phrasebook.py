"""The sentences of a language, read from its file and taken apart into their places.

A file has `conventions` and groups of sentences; a sentence's key is its group, a dot and
its name. A sentence is a text with places such as `{dish}` or `{energy_wh:energy}`, or one
text per plural form with the number that decides, `{"by": "days", "one": ..., "other": ...}`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
import json
from pathlib import Path
from string import Formatter
from typing import Any, Final, NamedTuple

from .conventions import Conventions
from .plurals import FORMS, OTHER

FOLDER: Final = Path(__file__).parent
_CONVENTIONS: Final = "conventions"
_BY: Final = "by"


class Place(NamedTuple):
    """The text before a place, the name of the value that fills it, and how it is written.

    A last place without a name has the text at the end.
    """

    before: str
    name: str
    way: str


type Template = tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence: its forms by plural category, and the value that decides."""

    forms: Mapping[str, Template]
    by: str = ""

    @property
    def places(self) -> Iterator[Place]:
        """All places of all forms that a value fills."""
        for template in self.forms.values():
            yield from (place for place in template if place.name)


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """One language: its two-letter code, its conventions and its sentences by key."""

    language: str
    conventions: Conventions
    entries: Mapping[str, Sentence]


@cache
def read_phrasebook(language: str) -> Phrasebook:
    """Return the catalogue of a language; the file is read once.

    Raises:
        OSError: there is none of that language.
        ValueError: the file is not one.
    """
    content = json.loads((FOLDER / f"{language}.json").read_text(encoding="utf-8"))
    conventions = Conventions.from_catalogue(content.pop(_CONVENTIONS))
    entries = {
        f"{group}.{name}": _entry(sentence)
        for group, sentences in content.items()
        for name, sentence in sentences.items()
    }
    return Phrasebook(language, conventions, entries)


def _entry(sentence: str | Mapping[str, Any]) -> Sentence:
    if isinstance(sentence, str):
        return Sentence({OTHER: _template(sentence)})
    forms = {form: _template(sentence[form]) for form in FORMS if form in sentence}
    return Sentence(forms, sentence[_BY])


def _template(text: str) -> Template:
    return tuple(
        Place(before, name or "", way or "")
        for before, name, way, _ in Formatter().parse(text)
    )
