"""What the core gives as phrases, in English, for tests that read sentences."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, tzinfo
import re

import pytest

from custom_components.galley_loads.core.boat.boat_problems import Problem
from custom_components.galley_loads.core.phrase import Phrase, PhrasedError
from custom_components.galley_loads.language.speech import english


def said(what: Phrase | PhrasedError | Problem, zone: tzinfo = UTC) -> str:
    """Return the sentence of a phrase, of what an error says, or of a boat's problem."""
    match what:
        case PhrasedError():
            phrase = what.phrase
        case Problem():
            phrase = what.in_full
        case _:
            phrase = what
    return english(zone).say(phrase)


def all_said(phrases: Iterable[Phrase], zone: tzinfo = UTC) -> tuple[str, ...]:
    """Return the sentences of several phrases."""
    return tuple(english(zone).say_all(phrases))


@contextmanager
def refused(
    error: type[PhrasedError], match: str
) -> Iterator[pytest.ExceptionInfo[PhrasedError]]:
    """Expect an error that says something in one line."""
    with pytest.raises(error) as caught:
        yield caught
    sentence = said(caught.value)
    assert re.search(match, sentence), sentence
    assert len(sentence.splitlines()) == 1
