"""How state is saved: one protocol for machines, one form for plain data.

A machine (what changes) has one `snapshot`/`restore` pair. Its state is a `TypedDict` or
another type of JSON's own kinds, so that a type checker compares what is saved with what
is read. Plain data (dataclasses and named tuples) is saved as rows: the values of its
fields in their order, nested data as rows within. Whoever takes up a state from a file passes it
through `checked` once; from then on it is what its type says.

A state must be of this version of the program: what does not fit raises `StateError` with
the place and the value, and nothing is guessed.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import (
    Any,
    Final,
    Literal,
    Protocol,
    TypeAliasType,
    Union,
    cast,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

type Row = Sequence[Any]
"""One piece of plain data as `row` gives it and `from_row` takes it."""

type _Read = Callable[[Any], Any]
type _Write = Callable[[Any], Any]


class StateError(ValueError):
    """A stored state that is not of the form that this version writes."""


class Stateful[S](Protocol):
    """A machine whose state can be saved and taken up again."""

    def snapshot(self) -> S:
        """Return the state as JSON-able data that does not change any more."""

    def restore(self, state: S) -> None:
        """Take up a state that `snapshot` of an equal machine gave.

        Raises:
            StateError: the state is not of the form that `snapshot` gives.
        """


def checked[T](form: type[T], state: object) -> T:
    """Return a stored state, which JSON has been through, as the type that it has.

    Lists become tuples where the type says so. A number without a fraction is a `float`
    too, as JSON does not keep the difference.

    Raises:
        StateError: a part is missing, unknown or of another type.
    """
    return cast(T, _reader(cast(Any, form))(state))


def row(data: object) -> list[Any]:
    """Return a dataclass or a named tuple as a row of its fields' values, JSON-able."""
    return cast(list[Any], _writer(cast(Any, type(data)))(data))


def from_row[T](form: type[T], values: Row) -> T:
    """Return the dataclass or the named tuple that `row` was given.

    Raises:
        StateError: the row is too short or too long, or a value is of another type.
    """
    return cast(T, _reader(cast(Any, form))(values))


_SCALARS: Final[Mapping[object, tuple[type, ...]]] = {
    str: (str,),
    bool: (bool,),
    int: (int,),
    float: (float, int),
    NoneType: (NoneType,),
}


def _error(value: object, wanted: object, where: str = "") -> StateError:
    name = wanted.__name__ if isinstance(wanted, type) else str(wanted)
    shown = repr(value)
    if len(shown) > 60:
        shown = f"{shown[:57]}..."
    return StateError(f"stored state: {where}{shown} is not {name}")


def _placed(err: StateError, place: object) -> StateError:
    """Return an error with one more step of the way to the value."""
    text = str(err).removeprefix("stored state: ")
    return StateError(f"stored state: {place}: {text}")


@cache
def _reader(form: Any) -> _Read:
    """Return what turns JSON into a value of a type, or raises `StateError`."""
    if isinstance(form, TypeAliasType):
        return _reader(form.__value__)
    if form is Any:
        return lambda value: value
    if form in _SCALARS:
        return _scalar_reader(form, _SCALARS[form])
    if is_typeddict(form):
        return _typed_dict_reader(form)
    if (names := _field_names(form)) is not None:
        return _data_reader(form, names)
    if isinstance(form, type) and issubclass(form, Enum):
        return _enum_reader(form)
    origin, parts = get_origin(form), get_args(form)
    if origin in (UnionType, Union):
        return _union_reader(form, parts)
    if origin is Literal:
        return _literal_reader(form, parts)
    if origin is tuple and not (len(parts) == 2 and parts[1] is Ellipsis):
        return _tuple_reader(form, parts)
    if origin in (list, tuple, Sequence, frozenset):
        return _sequence_reader(form, parts[0], list if origin is Sequence else origin)
    if origin in (dict, Mapping):
        return _dict_reader(form, parts[0], parts[1])
    raise TypeError(f"{form} cannot be part of a state")


def _scalar_reader(form: Any, allowed: tuple[type, ...]) -> _Read:
    def read(value: Any) -> Any:
        # By the type itself: True is an int to `isinstance`.
        if type(value) in allowed:
            return value
        raise _error(value, form)

    return read


def _enum_reader(form: type[Enum]) -> _Read:
    def read(value: Any) -> Any:
        try:
            return form(value)
        except ValueError:
            raise _error(value, form) from None

    return read


def _literal_reader(form: Any, values: tuple[Any, ...]) -> _Read:
    def read(value: Any) -> Any:
        if value in values:
            return value
        raise _error(value, form)

    return read


def _union_reader(form: Any, parts: tuple[Any, ...]) -> _Read:
    others = [part for part in parts if part is not NoneType]
    readers = [_reader(part) for part in others]
    may_miss = len(others) < len(parts)

    def read(value: Any) -> Any:
        if value is None and may_miss:
            return None
        if len(readers) == 1:
            return readers[0](value)
        for reader in readers:
            try:
                return reader(value)
            except StateError:
                continue
        raise _error(value, form)

    return read


def _sequence_reader(form: Any, part: Any, made: Any) -> _Read:
    read_one = _reader(part)

    def read(value: Any) -> Any:
        if not isinstance(value, (list, tuple)):
            raise _error(value, form)
        try:
            return made([read_one(one) for one in value])
        except StateError as err:
            raise _placed(err, "in a list") from None

    return read


def _tuple_reader(form: Any, parts: tuple[Any, ...]) -> _Read:
    readers = [_reader(part) for part in parts]

    def read(value: Any) -> Any:
        if not isinstance(value, (list, tuple)) or len(value) != len(readers):
            raise _error(value, form)
        return tuple([one(part) for one, part in zip(readers, value, strict=True)])

    return read


def _dict_reader(form: Any, key_form: Any, part: Any) -> _Read:
    read_key, read_one = _reader(key_form), _reader(part)

    def read(value: Any) -> Any:
        if not isinstance(value, Mapping):
            raise _error(value, form)
        made = {}
        for key, one in value.items():
            try:
                made[read_key(key)] = read_one(one)
            except StateError as err:
                raise _placed(err, key) from None
        return made

    return read


def _typed_dict_reader(form: Any) -> _Read:
    readers = {key: _reader(part) for key, part in get_type_hints(form).items()}

    def read(value: Any) -> Any:
        if not isinstance(value, Mapping):
            raise _error(value, form)
        if value.keys() != readers.keys():
            odd = sorted(map(str, value.keys() ^ readers.keys()))
            raise StateError(
                f"stored state: {form.__name__}: missing or unknown: {', '.join(odd)}"
            )
        made = {}
        for key, read_one in readers.items():
            try:
                made[key] = read_one(value[key])
            except StateError as err:
                raise _placed(err, key) from None
        return made

    return read


def _field_names(form: Any) -> list[str] | None:
    """Return the fields of a dataclass or a named tuple, None for any other type."""
    if not isinstance(form, type):
        return None
    if is_dataclass(form):
        return [one.name for one in fields(form) if one.init]
    return list(getattr(form, "_fields", ())) or None


def _data_reader(form: Any, names: list[str]) -> _Read:
    hints = get_type_hints(form)
    readers = [_reader(hints[name]) for name in names]

    def read(values: Any) -> Any:
        if not isinstance(values, (list, tuple)) or len(values) != len(readers):
            raise _error(values, form)
        made = []
        for name, read_one, value in zip(names, readers, values, strict=True):
            try:
                made.append(read_one(value))
            except StateError as err:
                raise _placed(err, f"{form.__name__}.{name}") from None
        return form(*made)

    return read


@cache
def _writer(form: Any) -> _Write:
    """Return what turns a value of a type into JSON."""
    if isinstance(form, TypeAliasType):
        return _writer(form.__value__)
    if form is Any or form in _SCALARS:
        return _as_is
    if (names := _field_names(form)) is not None:
        return _data_writer(form, names)
    if isinstance(form, type) and issubclass(form, Enum):
        return lambda value: value.value
    origin, parts = get_origin(form), get_args(form)
    if origin is Literal:
        return _as_is
    if origin in (UnionType, Union):
        return _union_writer(parts)
    if origin is tuple and not (len(parts) == 2 and parts[1] is Ellipsis):
        writers = [_writer(part) for part in parts]
        return lambda value: [
            one(part) for one, part in zip(writers, value, strict=True)
        ]
    if origin in (dict, Mapping):
        write_one = _writer(parts[1])
        return lambda value: {key: write_one(one) for key, one in value.items()}
    if origin is frozenset:
        return sorted
    if origin in (list, tuple, Sequence):
        write_one = _writer(parts[0])
        if write_one is _as_is:
            return list
        return lambda value: [write_one(one) for one in value]
    raise TypeError(f"{form} cannot be part of a state")


def _as_is(value: Any) -> Any:
    return value


def _union_writer(parts: tuple[Any, ...]) -> _Write:
    writers = [_writer(part) for part in parts if part is not NoneType]
    if all(write is _as_is for write in writers):
        return _as_is
    if len(writers) > 1:
        raise TypeError(f"one of {parts} cannot be told from another in a row")
    return lambda value: None if value is None else writers[0](value)


def _data_writer(form: Any, names: list[str]) -> _Write:
    hints = get_type_hints(form)
    named = [(name, _writer(hints[name])) for name in names]

    def write(data: Any) -> list[Any]:
        return [
            value if one is _as_is else one(value)
            for name, one in named
            for value in (getattr(data, name),)
        ]

    return write
