"""Every number of the inference says what it is and where it is from."""

import ast
from pathlib import Path
import re

from custom_components.galley_loads.core import inference

ROOM = Path(inference.__file__).parent
BIRTH = re.compile(r"\b(source|sourced|measured|judgement|definition)\b", re.IGNORECASE)
"""A published source, a command that measures it, a judgement, or a definition (a day has
so many seconds; a number that stands for a case)."""


def is_number(node: ast.expr) -> bool:
    """Return whether an expression is a number, or made of numbers alone."""
    if isinstance(node, ast.Call):
        return bool(node.args) and all(is_number(each) for each in node.args)
    if isinstance(node, (ast.Tuple, ast.Set, ast.List)):
        return bool(node.elts) and any(is_number(each) for each in node.elts)
    if isinstance(node, ast.BinOp):
        return is_number(node.left) or is_number(node.right)
    if isinstance(node, ast.UnaryOp):
        return is_number(node.operand)
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def unexplained(text: str) -> list[str]:
    """Return the constants of a module whose docstrings say nothing of their birth."""
    body = ast.parse(text).body
    found: list[str] = []
    for node, after in zip(body, [*body[1:], ast.Pass()], strict=True):
        if not isinstance(node, ast.AnnAssign) or not isinstance(node.target, ast.Name):
            continue
        if node.value is None or not is_number(node.value):
            continue
        match after:
            case ast.Expr(ast.Constant(str(words))) if BIRTH.search(words):
                pass
            case _:
                found.append(node.target.id)
    return found


def test_every_number_says_where_it_is_from():
    found = {
        f"{path.relative_to(ROOM)}: {name}"
        for path in ROOM.rglob("*.py")
        for name in unexplained(path.read_text())
    }
    assert found == set()


def test_a_number_without_a_word_is_found():
    bare = 'A: Final = 3.0\n"""How many."""\nB: Final = 2.0 * 60.0\n'
    assert unexplained(bare) == ["A", "B"]
    assert unexplained('A: Final = 3.0\n"""Judgement, s: how long."""\n') == []
