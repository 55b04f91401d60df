"""One section of a boat description: known keys in, one frozen object out, and back.

A section is data: its fields, each with the key a person writes, the attribute it fills
and its validator. The same section reads a part of a boat file and the answers of a form.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields as fields_of
from difflib import get_close_matches
from typing import Any

import voluptuous as vol

from ..phrase import Phrase, phrase
from .boat_fields import Validator, not_allowed
from .boat_problems import BoatError, Fault, FieldInvalid, Problem, problems_in, shown


def _plain(value: Any) -> Any:
    """Return a value as a file holds it: whole numbers without a decimal point."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


@dataclass(frozen=True, slots=True)
class Field:
    """One key of a section.

    `write` turns the attribute back into what a file holds; `needs` says what a missing
    field is to be given where its validator does not say it.
    """

    key: str
    attribute: str
    check: Validator
    required: bool = False
    write: Callable[[Any], Any] = _plain
    needs: Phrase | None = None

    @property
    def needed(self) -> Phrase:
        """What is said where the field is missing."""
        allowed: Phrase = self.needs or getattr(self.check, "allowed")  # noqa: B009
        return phrase("boat.missing", needed=allowed)


class Section[T]:
    """Reads a mapping with known keys into one `T` and writes it back."""

    def __init__(
        self,
        name: str,
        result: type[T],
        fields: Sequence[Field],
        check: Callable[[T], Iterable[FieldInvalid]] | None = None,
    ) -> None:
        """Describe the section; `check` finds what is wrong between its fields."""
        self.name = name
        self.fields = tuple(fields)
        self.keys = tuple(field.key for field in fields)
        self.allowed = phrase("boat.mapping_with_keys", keys=self.keys)
        self._result = result
        self._check = check
        self._attributes = {field.key: field.attribute for field in fields}
        self._defaults = {
            one.name: one.default
            for one in fields_of(result)  # type: ignore[arg-type]
            if one.default is not MISSING
        }
        self._schema = vol.Schema(
            {
                vol.Required(field.key)
                if field.required
                else vol.Optional(field.key): field.check
                for field in fields
            }
        )

    @property
    def assumed(self) -> dict[str, Any]:
        """What holds where a key is left out, as a file writes it; only what is something."""
        return {
            field.key: field.write(self._defaults[field.attribute])
            for field in self.fields
            if not field.required
            and self._defaults.get(field.attribute) not in (None, (), {})
        }

    def __call__(self, data: Any) -> T:
        """Validate as a part of a larger schema.

        Raises:
            vol.Invalid: with paths that start in this section.
        """
        if not isinstance(data, Mapping):
            raise FieldInvalid(Fault.WRONG_TYPE, not_allowed(data, self.allowed))
        errors: list[vol.Invalid] = [
            self._unknown(key) for key in data if key not in self._attributes
        ]
        # An empty key ("relay:" and nothing after it) is a key left out.
        given = {
            key: value
            for key, value in data.items()
            if value is not None and key in self._attributes
        }
        values: dict[str, Any] = {}
        try:
            values = self._schema(given)
        except vol.MultipleInvalid as error:
            errors += sorted(map(self._phrased, error.errors), key=self._order)
        if not errors:
            result = self._result(
                **{self._attributes[key]: value for key, value in values.items()}
            )
            if self._check is not None:
                errors += self._check(result)
            if not errors:
                return result
        raise vol.MultipleInvalid(errors)

    def parse(self, data: Any) -> T:
        """Read the section by itself, as a form gives it.

        Raises:
            BoatError: with one problem per field that is wrong.
        """
        try:
            return self(data)
        except vol.Invalid as error:
            raise BoatError(problems_in(error)) from None

    def problems(self, data: Any) -> tuple[Problem, ...]:
        """Return what is wrong with the section; nothing if it can be used."""
        try:
            self(data)
        except vol.Invalid as error:
            return tuple(problems_in(error))
        return ()

    def write(self, value: T) -> dict[str, Any]:
        """Return the mapping that reads back as `value`; defaults are left out."""
        written: dict[str, Any] = {}
        for field in self.fields:
            part = getattr(value, field.attribute)
            left_out = not field.required and (
                part is None
                or part in ((), {})
                or part == self._defaults.get(field.attribute, MISSING)
            )
            if not left_out:
                written[field.key] = field.write(part)
        return written

    def _phrased(self, error: vol.Invalid) -> vol.Invalid:
        """Return an error of the schema library about a missing field as one of ours."""
        if not isinstance(error, vol.RequiredFieldInvalid):
            return error
        key = str(error.path[0])
        field = next(field for field in self.fields if field.key == key)
        return FieldInvalid(Fault.MISSING, field.needed, [key])

    def _order(self, error: vol.Invalid) -> int:
        key = str(error.path[0]) if error.path else ""
        return self.keys.index(key) if key in self.keys else -1

    def _unknown(self, key: Any) -> FieldInvalid:
        close = get_close_matches(str(key), self.keys, n=1)
        said = (
            phrase("boat.unknown_key_like", meant=close[0], keys=self.keys)
            if close
            else phrase("boat.unknown_key", keys=self.keys)
        )
        return FieldInvalid(Fault.UNKNOWN_KEY, said, [str(key)])


class ListOf[T]:
    """A list of sections whose names differ; finds every problem, not just the first."""

    def __init__(self, section: Section[T]) -> None:
        """Check each item with `section`."""
        self.section = section
        self.allowed = phrase("boat.list_of_mappings", section=section.name)

    def __call__(self, data: Any) -> tuple[T, ...]:
        """Return the items as a tuple."""
        if not isinstance(data, (list, tuple)):
            raise FieldInvalid(Fault.WRONG_TYPE, not_allowed(data, self.allowed))
        items: list[T] = []
        errors: list[vol.Invalid] = []
        first_of: dict[str, int] = {}
        for index, part in enumerate(data):
            try:
                item = self.section(part)
            except vol.Invalid as error:
                error.prepend([index])
                errors += (
                    error.errors if isinstance(error, vol.MultipleInvalid) else [error]
                )
                continue
            items.append(item)
            name = str(getattr(item, "name")).casefold()  # noqa: B009
            first = first_of.setdefault(name, index)
            if first != index:
                errors.append(
                    FieldInvalid(
                        Fault.DUPLICATE,
                        phrase(
                            "boat.same_name",
                            name=shown(part["name"]),
                            section=self.section.name,
                            index=first,
                        ),
                        [index, "name"],
                    )
                )
        if errors:
            raise vol.MultipleInvalid(errors)
        return tuple(items)

    def write(self, items: Iterable[T]) -> list[dict[str, Any]]:
        """Return the list that reads back as `items`."""
        return [self.section.write(item) for item in items]
