"""Boat files: a description as YAML, read and written."""

from pathlib import Path
import re
from typing import Any, Final, override

import yaml

from ..phrase import Phrase, phrase
from .boat import Boat
from .boat_problems import BoatError, Fault, Problem, shown
from .boat_schema import boat_to_mapping, parse_boat

LONGEST_FILE_BYTES: Final = 1_000_000


class _DuplicateKeyError(yaml.MarkedYAMLError):
    """A key occurs twice in a mapping; the problem is the key."""


class _Loader(yaml.SafeLoader):
    """Safe YAML in which a key occurs once and 19:30 is not a number to base 60."""

    @override
    def construct_scalar(self, node: yaml.ScalarNode | yaml.MappingNode) -> Any:
        text = super().construct_scalar(node)
        if isinstance(text, str) and not text.isascii():
            # JSON, which is YAML too, writes an emoji as two escapes, each half of it.
            halves = text.encode("utf-16", "surrogatepass")
            return halves.decode("utf-16", "surrogatepass")
        return text

    @override
    def construct_mapping(
        self, node: yaml.MappingNode, deep: bool = False
    ) -> dict[Any, Any]:
        seen: set[str] = set()
        for key, _ in node.value:
            if isinstance(key, yaml.ScalarNode):
                if key.value in seen:
                    raise _DuplicateKeyError(
                        problem=key.value,
                        problem_mark=key.start_mark,
                    )
                seen.add(key.value)
        return super().construct_mapping(node, deep)


# YAML 1.1 reads an unquoted 19:30 as 1170 and 0560 as an octal number. Here numbers are
# what people take for numbers, and everything else stays text.
_NUMBERS: Final = (
    ("tag:yaml.org,2002:int", re.compile(r"[-+]?(?:0|[1-9][0-9]*)$")),
    (
        "tag:yaml.org,2002:float",
        re.compile(
            r"[-+]?(?:(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?|\.inf)$|\.nan$"
        ),
    ),
)
_KEPT_TAGS: Final = (
    "tag:yaml.org,2002:bool",
    "tag:yaml.org,2002:null",
    "tag:yaml.org,2002:merge",
)
_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag in _KEPT_TAGS]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
for _tag, _pattern in _NUMBERS:
    _Loader.add_implicit_resolver(_tag, _pattern, list("-+.0123456789"))


class _Dumper(yaml.SafeDumper):
    """Quotes what either reading of numbers would not take for text."""


for _tag, _pattern in _NUMBERS:
    _Dumper.add_implicit_resolver(_tag, _pattern, list("-+.0123456789"))


def _unreadable(said: Phrase) -> BoatError:
    return BoatError([Problem((), Fault.UNREADABLE, said)])


def read_mapping(text: str) -> Any:
    """Return what a boat file's text holds, not yet checked against the schema.

    Raises:
        BoatError: the text is no YAML, is empty, or names a key twice.
    """
    try:
        content = yaml.load(text, _Loader)
    except yaml.MarkedYAMLError as error:
        raise _unreadable(_marked(error)) from None
    except (yaml.YAMLError, ValueError) as error:
        raise _unreadable(phrase("boat.not_yaml", error=_line(error))) from None
    except (AttributeError, LookupError) as error:
        # How the library ends on `!!bool maybe`; a boat file has no need of tags.
        raise _unreadable(phrase("boat.wrong_tag", error=_line(error))) from None
    except RecursionError:
        raise _unreadable(phrase("boat.too_deep")) from None
    if content is None:
        raise _unreadable(phrase("boat.empty_file"))
    return content


def _marked(error: yaml.MarkedYAMLError) -> Phrase:
    """Return what the library found, and where."""
    what = _line(error.problem or error.context)
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return phrase("boat.not_yaml", error=what)
    line, column = mark.line + 1, mark.column + 1
    if isinstance(error, _DuplicateKeyError):
        key = shown(error.problem)
        return phrase("boat.key_twice", line=line, column=column, name=key)
    return phrase("boat.not_yaml_at", line=line, column=column, error=what)


def _line(text: object) -> str:
    return " ".join(str(text).split())


def boat_from_text(text: str) -> Boat:
    """Return the boat that the text of a boat file tells of.

    Raises:
        BoatError: with a phrase that names field, value and what is allowed.
    """
    return parse_boat(read_mapping(text))


def read_boat(path: Path) -> Boat:
    """Return the boat that a file tells of.

    Raises:
        BoatError: with a phrase that names field, value and what is allowed.
        OSError: the file cannot be read.
    """
    with path.open("rb") as file:
        content = file.read(LONGEST_FILE_BYTES + 1)
    if len(content) > LONGEST_FILE_BYTES:
        raise _unreadable(phrase("boat.too_long", longest_bytes=LONGEST_FILE_BYTES))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _unreadable(phrase("boat.not_utf8", byte=error.start)) from None
    return boat_from_text(text)


def boat_to_text(boat: Boat) -> str:
    """Return the boat file of a boat; `boat_from_text` reads it back as an equal boat."""
    return yaml.dump(
        boat_to_mapping(boat),
        Dumper=_Dumper,
        sort_keys=False,
        allow_unicode=True,
        width=88,
    )
