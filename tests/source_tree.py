"""The integration's source as a graph: which file imports which, read from the text."""

import ast
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "custom_components" / "galley_loads"

type Graph = Mapping[str, frozenset[str]]


@cache
def trees() -> Mapping[str, ast.Module]:
    """Return every file, parsed, by its path from the integration's root."""
    return {
        path.relative_to(PACKAGE).as_posix(): ast.parse(
            path.read_text(encoding="utf-8")
        )
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def _file_of(parts: Sequence[str]) -> str | None:
    """Return the file that a dotted name within the integration stands for."""
    stem = "/".join(parts)
    for name in (f"{stem}.py", f"{stem}/__init__.py" if stem else "__init__.py"):
        if name in trees():
            return name
    return None


def _own_imports(file: str, tree: ast.Module) -> Iterator[str]:
    """Yield the integration's files that one imports, wherever in it that stands."""
    folder = file.split("/")[:-1]
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        base = folder[: len(folder) - (node.level - 1)]
        base += node.module.split(".") if node.module else []
        for name in node.names:
            # A name may be a module of the package, or something that it defines.
            if found := _file_of([*base, name.name]) or _file_of(base):
                yield found


@cache
def imports() -> Graph:
    """Return what each file imports of the integration."""
    return {
        file: frozenset(_own_imports(file, tree)) - {file}
        for file, tree in trees().items()
    }


def foreign_imports(file: str) -> set[str]:
    """Return the names of the packages outside of the integration that a file imports."""
    found: set[str] = set()
    for node in ast.walk(trees()[file]):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
            found.add(node.module.partition(".")[0])
    return found


def room_of(file: str) -> str:
    """Return a file's room: its folder; a file at a root counts for itself.

    A room's own `__init__` is its door and belongs to it.
    """
    folder, _, name = file.rpartition("/")
    return file if folder in ("", "core") and name != "__init__.py" else folder


def rooms() -> dict[str, set[str]]:
    """Return which rooms each room imports from."""
    found: dict[str, set[str]] = {room_of(file): set() for file in trees()}
    for file, imported in imports().items():
        for other in imported:
            if room_of(other) != room_of(file):
                found[room_of(file)].add(room_of(other))
    return found


def circle(graph: Mapping[str, set[str] | frozenset[str]]) -> list[str]:
    """Return one circle of a graph, empty where there is none."""
    try:
        tuple(TopologicalSorter(graph).static_order())
    except CycleError as err:
        return list(err.args[1])
    return []
