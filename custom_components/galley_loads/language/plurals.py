"""Which form of a sentence goes with a number.

The categories and rules are those of the Unicode CLDR, "Language Plural Rules", for whole
numbers of the size that occurs here.
"""

from collections.abc import Callable, Mapping
from typing import Final

ONE: Final = "one"
OTHER: Final = "other"
FORMS: Final = (ONE, OTHER)


def _one_is_single(number: float) -> str:
    return ONE if number == 1 else OTHER


def _none_is_single_too(number: float) -> str:
    return ONE if 0 <= number < 2 else OTHER


_RULES: Final[Mapping[str, Callable[[float], str]]] = {
    "en": _one_is_single,
    "de": _one_is_single,
    "es": _one_is_single,
    "fr": _none_is_single_too,
}


def plural_form(language: str, number: float) -> str:
    """Return the form that a language's sentence takes with a number."""
    return _RULES[language](number)
