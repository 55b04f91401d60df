"""Validators of single fields of a boat description.

Each is a callable that returns the value as the boat keeps it, or raises `FieldInvalid`
with a phrase that names the value and what is allowed. They are plain callables, so that
the schema library is asked for nothing but structure and paths.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import time
import math
import re
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ..phrase import Phrase, phrase
from .boat import Sensor
from .boat_problems import Fault, FieldInvalid, shown

type Validator = Callable[[Any], Any]

LONGEST_NAME: Final = 100

POWER_UNITS: Final[Mapping[str, float]] = {"W": 1.0, "kW": 1000.0, "mW": 0.001}
CURRENT_UNITS: Final[Mapping[str, float]] = {"A": 1.0, "mA": 0.001}
VOLTAGE_UNITS: Final[Mapping[str, float]] = {"V": 1.0, "mV": 0.001}
SHARE_UNITS: Final[Mapping[str, float]] = {"%": 1.0}
TEMPERATURE_UNITS: Final[Mapping[str, float]] = {"°C": 1.0}

NUMBER_DOMAINS: Final = ("sensor", "number", "input_number")
SWITCH_DOMAINS: Final = ("switch", "input_boolean")
PLACE_DOMAINS: Final = ("device_tracker", "person", "zone", "sensor")

_ENTITY_ID: Final = re.compile(r"([a-z0-9_]+)\.([a-z0-9_]+)")
_CLOCK_TIME: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
_WORD: Final = re.compile(r"[A-Za-z0-9_-]{1,100}")


def not_allowed(value: Any, allowed: Phrase) -> Phrase:
    """Return that a value is none of what is allowed."""
    return phrase("boat.not_allowed", value=shown(value), allowed=allowed)


class Number:
    """A finite number within limits; text that looks like one is not accepted."""

    def __init__(
        self,
        low: float,
        high: float,
        unit: str | Phrase = "",
        *,
        above: bool = False,
        below: bool = False,
        hint: Phrase | None = None,
    ) -> None:
        """Allow `low` to `high`; `above` and `below` leave out the limit itself."""
        self.low, self.high = low, high
        self._above, self._below = above, below
        self.allowed = self._range()
        if unit:
            self.allowed = phrase("boat.with_unit", number=self.allowed, unit=unit)
        self._hint = hint

    def _range(self) -> Phrase:
        low, high = self.low, self.high
        match self._above, self._below:
            case False, False:
                return phrase("boat.number", low=low, high=high)
            case True, False:
                return phrase("boat.number_above", low=low, high=high)
            case False, True:
                return phrase("boat.number_below", low=low, high=high)
            case _:
                return phrase("boat.number_between", low=low, high=high)

    def __call__(self, value: Any) -> float:
        """Return the number as a float."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise FieldInvalid(Fault.WRONG_TYPE, not_allowed(value, self.allowed))
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        too_low = number <= self.low if self._above else number < self.low
        too_high = number >= self.high if self._below else number > self.high
        if not math.isfinite(number) or too_low or too_high:
            raise FieldInvalid(Fault.OUT_OF_RANGE, self._out_of_range(value))
        return number

    def _out_of_range(self, value: Any) -> Phrase:
        if self._hint is None:
            return not_allowed(value, self.allowed)
        return phrase(
            "boat.not_allowed_with_hint",
            value=shown(value),
            allowed=self.allowed,
            hint=self._hint,
        )


def name_text(value: Any) -> str:
    """Accept a name: one line of text."""
    allowed = phrase("boat.printable_name", longest=LONGEST_NAME)
    if isinstance(value, (bool, int)):
        raise FieldInvalid(
            Fault.WRONG_TYPE,
            phrase("boat.not_quoted", value=shown(value), allowed=allowed),
        )
    if not isinstance(value, str):
        raise FieldInvalid(Fault.WRONG_TYPE, not_allowed(value, allowed))
    name = value.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise FieldInvalid(Fault.OUT_OF_RANGE, not_allowed(value, allowed))
    return name


def yes_or_no(value: Any) -> bool:
    """Accept true or false."""
    if not isinstance(value, bool):
        raise FieldInvalid(
            Fault.WRONG_TYPE, not_allowed(value, phrase("boat.true_or_false"))
        )
    return value


class OneOf[E: str]:
    """One word of a set: an enumeration, or the catalogue of kinds."""

    def __init__(self, words: Iterable[E]) -> None:
        """Allow these words, as they are when a value is looked at."""
        self._words = words

    @property
    def allowed(self) -> Phrase:
        """What is allowed."""
        return phrase("boat.one_of", words=tuple(str(word) for word in self._words))

    def __call__(self, value: Any) -> E:
        """Return the member."""
        for word in self._words:
            if word == value:
                return word
        raise FieldInvalid(Fault.NOT_ALLOWED, not_allowed(value, self.allowed))


def time_zone(value: Any) -> ZoneInfo:
    """Accept the name of a time zone, such as Atlantic/Azores."""
    allowed = phrase("boat.time_zone")
    if not isinstance(value, str):
        raise FieldInvalid(Fault.WRONG_TYPE, not_allowed(value, allowed))
    try:
        return ZoneInfo(value)
    except ZoneInfoNotFoundError, ValueError, OSError:
        pass
    raise FieldInvalid(Fault.NOT_ALLOWED, not_allowed(value, allowed))


def clock_time(value: Any) -> time:
    """Accept a time of day in boat time, such as "19:30"."""
    if isinstance(value, time) and value.tzinfo is None:
        return value.replace(microsecond=0)
    match = _CLOCK_TIME.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is not None:
        hour, minute, second = (int(part or 0) for part in match.groups())
        if hour < 24 and minute < 60 and second < 60:
            return time(hour, minute, second)
    raise FieldInvalid(Fault.NOT_A_TIME, not_allowed(value, phrase("boat.time_of_day")))


class EntityId:
    """The id of an entity of certain domains."""

    def __init__(self, domains: tuple[str, ...], allowed: Phrase) -> None:
        """Allow entities of `domains`; `allowed` says what they are there for."""
        self._domains = domains
        self.allowed = allowed

    def __call__(self, value: Any) -> str:
        """Return the entity id."""
        match = _ENTITY_ID.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            raise FieldInvalid(Fault.NOT_AN_ENTITY, not_allowed(value, self.allowed))
        if match[1] not in self._domains:
            raise FieldInvalid(
                Fault.NOT_AN_ENTITY,
                phrase(
                    "boat.wrong_domain",
                    value=shown(value),
                    allowed=self.allowed,
                    domains=self._domains,
                ),
            )
        return str(value)


class SensorField:
    """A sensor: its entity id, or a mapping of `entity` and `unit`.

    A meter of what flows one way only may be `reversed`: its numbers are read with the
    other sign.
    """

    def __init__(
        self, units: Mapping[str, float], allowed: Phrase, *, one_way: bool = False
    ) -> None:
        """Allow the given units, of which the first needs no mention."""
        self.units = units
        self.keys = ("entity", "unit", "reversed") if one_way else ("entity", "unit")
        self._entity = EntityId(NUMBER_DOMAINS, allowed)

    def __call__(self, value: Any) -> Sensor:
        """Return the sensor with the scale of its unit."""
        if not isinstance(value, Mapping):
            return Sensor(self._entity(value))
        for key in value:
            if key not in self.keys:
                raise FieldInvalid(
                    Fault.UNKNOWN_KEY,
                    phrase("boat.unknown_key", keys=self.keys),
                    [str(key)],
                )
        if value.get("entity") is None:
            raise FieldInvalid(
                Fault.MISSING,
                phrase("boat.missing", needed=self._entity.allowed),
                ["entity"],
            )
        try:
            entity_id = self._entity(value["entity"])
        except FieldInvalid as error:
            raise FieldInvalid(error.fault, error.phrase, ["entity"]) from None
        return Sensor(entity_id, self._sign(value) * self._scale(value.get("unit")))

    def _scale(self, unit: Any) -> float:
        if unit is None:
            return 1.0
        if not isinstance(unit, str) or unit not in self.units:
            raise FieldInvalid(
                Fault.WRONG_UNIT,
                phrase("boat.wrong_unit", value=shown(unit), units=tuple(self.units)),
                ["unit"],
            )
        return self.units[unit]

    def _sign(self, value: Mapping[str, Any]) -> float:
        given = value.get("reversed")
        try:
            return -1.0 if given is not None and yes_or_no(given) else 1.0
        except FieldInvalid as error:
            raise FieldInvalid(error.fault, error.phrase, ["reversed"]) from None


class OneOrMore:
    """One value or a list of them; returns a tuple."""

    def __init__(self, one: Validator) -> None:
        """Check each with `one`."""
        self._one = one

    def __call__(self, value: Any) -> tuple[Any, ...]:
        """Return the values as a tuple."""
        if not isinstance(value, (list, tuple)):
            return (self._one(value),)
        values: list[Any] = []
        for index, item in enumerate(value):
            try:
                values.append(self._one(item))
            except FieldInvalid as error:
                error.prepend([index])
                raise
        return tuple(values)


def forecast_source(value: Any) -> str:
    """Accept a sensor of a forecast, or the name of a forecast service of the platform."""
    if isinstance(value, str):
        match = _ENTITY_ID.fullmatch(value)
        if match[1] in NUMBER_DOMAINS if match else _WORD.fullmatch(value):
            return value
    raise FieldInvalid(
        Fault.NOT_ALLOWED, phrase("boat.no_forecast", value=shown(value))
    )
