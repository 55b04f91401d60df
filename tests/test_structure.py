"""How the house is built: what the rooms may take from each other."""

import ast
from collections import Counter
from typing import Final

import pytest

from .source_tree import circle, foreign_imports, imports, room_of, rooms, trees

CORE_FROM_THE_GROUND: Final = (
    "core/stateful.py",
    "core/phrase.py",
    "core/kinds",
    "core/boat",
    "core/metering",
    "core/metering/signs",
    "core/inference/model",
    "core/inference/learning",
    "core/inference/review",
    "core/inference/search",
    "core/inference",
    "core/ledger",
    "core/meals",
    "core/events.py",
    "core/bank",
    "core/sky",
    "core/outlook",
    "core/standby",
    "core/live",
    "core/engine_view.py",
    "core/engine.py",
    "core/advice",
    "core/cutting",
    "core/occasions",
    "core/replay",
)
"""The rooms of the core; each may take from those before it alone."""

MOST_FILES_IN_A_ROOM: Final = 21


def test_no_file_imports_itself_by_a_detour() -> None:
    assert circle(imports()) == []


def test_no_two_rooms_lean_on_each_other() -> None:
    assert circle(rooms()) == []


def test_the_core_is_built_from_the_ground_up() -> None:
    built = {room for room in rooms() if room.startswith("core/")}
    assert built == set(CORE_FROM_THE_GROUND)
    height = {room: at for at, room in enumerate(CORE_FROM_THE_GROUND)}
    upward = [
        (file, other)
        for file, imported in imports().items()
        for other in imported
        if room_of(file) in height
        and height.get(room_of(other), len(height)) > height[room_of(file)]
    ]
    assert upward == []


@pytest.mark.parametrize("file", [f for f in trees() if f.startswith("core/")])
def test_the_core_knows_nothing_of_the_platform(file: str) -> None:
    assert not foreign_imports(file) & {"homeassistant", "custom_components"}
    assert all(other.startswith("core/") for other in imports()[file])


def test_a_file_name_stands_for_one_thing() -> None:
    names = Counter(file.rpartition("/")[2] for file in trees())
    del names["__init__.py"]
    assert [name for name, count in names.items() if count > 1] == []


def test_a_class_name_stands_for_one_thing() -> None:
    names = Counter(
        node.name
        for tree in trees().values()
        for node in tree.body
        if isinstance(node, ast.ClassDef)
    )
    assert [name for name, count in names.items() if count > 1] == []


def test_no_room_is_overcrowded() -> None:
    counts = Counter(
        file.rpartition("/")[0]
        for file in trees()
        # At the integration's own root the platform names the files.
        if "/" in file and not file.endswith("__init__.py")
    )
    assert {room: n for room, n in counts.items() if n > MOST_FILES_IN_A_ROOM} == {}
