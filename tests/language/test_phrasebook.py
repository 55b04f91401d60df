"""The core's phrases and the catalogue fit each other, and no sentence is left in the core."""

import ast
from collections.abc import Iterator
from pathlib import Path
import re
from typing import Final

import pytest

from custom_components.galley_loads.language.phrasebook import (
    FOLDER,
    Phrasebook,
    Sentence,
    read_phrasebook,
)
from custom_components.galley_loads.language.plurals import FORMS
from custom_components.galley_loads.language.speech import (
    CLOCK,
    NOW,
    WAYS_OF_NUMBERS,
    WAYS_OF_TEXTS,
    WAYS_OF_TIMES,
)

PACKAGE: Final = FOLDER.parent
CORE: Final = PACKAGE / "core"
LANGUAGES: Final = sorted(path.stem for path in FOLDER.glob("*.json"))

UNIT_OF_WAY: Final = {
    "age": r"_s$",
    "ampere_hours": r"_ah$",
    "chance": r"^chance",
    "charge": r"(^|_)soc$",
    "clock": r"_s$",
    "date": r"_s$",
    "day_time": r"_hour$",
    "duration": r"_s$",
    "energy": r"_wh$",
    "percent": r"(share|chance)$",
    "time": r"_s$",
}
"""What the name of a value ends with, by the way it is written."""

THREE_WORDS: Final = re.compile(r"[A-Za-z']+,? [a-z']+,? [a-z']+")


def trees(folder: Path) -> Iterator[tuple[str, ast.Module]]:
    for path in sorted(folder.rglob("*.py")):
        yield str(path.relative_to(PACKAGE)), ast.parse(path.read_text())


def is_phrase(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "phrase"
    )


def said() -> list[tuple[str, ast.Call]]:
    return [
        (f"{name}:{node.lineno}", node)
        for name, tree in trees(PACKAGE)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and is_phrase(node)
    ]


def key_of(call: ast.Call) -> str:
    (key,) = call.args
    assert isinstance(key, ast.Constant), ast.unparse(call)
    return str(key.value)


def values_of(entry: Sentence) -> set[str]:
    names = {place.name for place in entry.places}
    if any(place.way == CLOCK for place in entry.places):
        names.add(NOW)
    return names | ({entry.by} if entry.by else set())


@pytest.fixture(params=LANGUAGES)
def catalogue(request: pytest.FixtureRequest) -> Phrasebook:
    return read_phrasebook(request.param)


def test_every_phrase_has_its_sentence_and_gives_what_the_sentence_takes(
    catalogue: Phrasebook,
) -> None:
    calls = said()
    assert len(calls) > 100
    for where, call in calls:
        key = key_of(call)
        assert key in catalogue.entries, f"{where}: no sentence for {key}"
        given = {keyword.arg for keyword in call.keywords}
        taken = values_of(catalogue.entries[key])
        assert given == taken, f"{where}: {key} gives {given}, takes {taken}"


def test_no_sentence_is_without_a_phrase(catalogue: Phrasebook) -> None:
    assert set(catalogue.entries) == {key_of(call) for _, call in said()}


def test_every_place_is_written_in_a_known_way_that_fits_its_unit(
    catalogue: Phrasebook,
) -> None:
    ways = {*WAYS_OF_NUMBERS, *WAYS_OF_TEXTS, *WAYS_OF_TIMES, CLOCK}
    for key, entry in catalogue.entries.items():
        for place in entry.places:
            assert place.way in ways, f"{key}: {place.way}"
            unit = UNIT_OF_WAY.get(place.way, "")
            assert re.search(unit, place.name), f"{key}: {place.name}:{place.way}"


def test_every_plural_has_all_its_forms_with_the_same_values(
    catalogue: Phrasebook,
) -> None:
    plural = [entry for entry in catalogue.entries.values() if entry.by]
    assert plural
    for entry in plural:
        assert set(entry.forms) == set(FORMS)


def test_a_catalogue_is_in_order(catalogue: Phrasebook) -> None:
    # So that two languages can be read side by side.
    assert list(catalogue.entries) == sorted(catalogue.entries)


def test_every_language_says_the_same(catalogue: Phrasebook) -> None:
    english = read_phrasebook("en")
    assert set(catalogue.entries) == set(english.entries)
    assert set(catalogue.conventions.texts) == set(english.conventions.texts)
    conventions = catalogue.conventions
    assert len(conventions.weekdays) == len(conventions.weekdays_short) == 7
    assert len(conventions.months_short) == 12


def is_text_for_developers(node: ast.AST) -> bool:
    """Whether all within is for developers: errors of the program, docstrings, SQL."""
    match node:
        case ast.Raise() | ast.Assert() | ast.Expr(value=ast.Constant()):
            return True
        case ast.Call(func=ast.Name(id=name)):
            return name.endswith("Error")
        case ast.Call(func=ast.Attribute(attr=name)):
            return name == "execute"
    return False


def texts_in(node: ast.AST) -> Iterator[tuple[int, str]]:
    if is_text_for_developers(node):
        return
    match node:
        case ast.JoinedStr(values=values):
            parts = [
                str(part.value) if isinstance(part, ast.Constant) else "0"
                for part in values
            ]
            yield node.lineno, "".join(parts)
        case ast.Constant(value=str(text)):
            yield node.lineno, text
        case _:
            for child in ast.iter_child_nodes(node):
                yield from texts_in(child)


def test_the_core_holds_no_sentence() -> None:
    found = [
        f"{name}:{line}: {text}"
        for name, tree in trees(CORE)
        for line, text in texts_in(tree)
        if THREE_WORDS.search(text)
    ]
    assert found == []


def test_errors_of_the_core_for_what_people_give_carry_a_phrase() -> None:
    # A ValueError with a text of its own is one of the program, not of its user.
    for name, tree in trees(CORE):
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and node.name in {
                "BoatError",
                "HistoryError",
                "LearnProblem",
                "NotEnoughPast",
                "UnknownDish",
            }:
                bases = [ast.unparse(base) for base in node.bases]
                assert bases == ["PhrasedError"], f"{name}: {node.name}"


def test_the_languages_know_nothing_of_the_platform() -> None:
    for name, tree in trees(FOLDER):
        for node in ast.walk(tree):
            match node:
                case ast.Import(names=names):
                    modules = [alias.name for alias in names]
                case ast.ImportFrom(module=module, level=level):
                    assert level < 2 or str(module).startswith("core"), name
                    modules = [] if level else [str(module)]
                case _:
                    modules = []
            assert not any(m.startswith("homeassistant") for m in modules), name
