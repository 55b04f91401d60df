"""Validators of single fields of a boat description.

Each is a callable that returns the value as the boat keeps it, or raises `FieldInvalid`
with a line that names the value and what is allowed. They are plain callables, so that
the schema library is asked for nothing but structure and paths.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import time
import math
import re
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

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


class Number:
    """A finite number within limits; text that looks like one is not accepted."""

    def __init__(
        self,
        low: float,
        high: float,
        unit: str = "",
        *,
        above: bool = False,
        below: bool = False,
        hint: str = "",
    ) -> None:
        """Allow `low` to `high`; `above` and `below` leave out the limit itself."""
        self.low, self.high = low, high
        self._above, self._below = above, below
        start = f"above {low:g}, at most" if above else f"from {low:g} to"
        end = f"below {high:.7g}" if below else f"{high:.7g}"
        self.allowed = f"a number {start} {end}{f' {unit}' if unit else ''}"
        self._hint = f" ({hint})" if hint else ""

    def __call__(self, value: Any) -> float:
        """Return the number as a float."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise FieldInvalid(
                Fault.WRONG_TYPE, f"{shown(value)} is not {self.allowed}"
            )
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        too_low = number <= self.low if self._above else number < self.low
        too_high = number >= self.high if self._below else number > self.high
        if not math.isfinite(number) or too_low or too_high:
            raise FieldInvalid(
                Fault.OUT_OF_RANGE,
                f"{shown(value)} is not {self.allowed}{self._hint}",
            )
        return number


def name_text(value: Any) -> str:
    """Accept a name: one line of text."""
    allowed = f"a name of 1 to {LONGEST_NAME} printable characters"
    if not isinstance(value, str):
        hint = "; put it in quotation marks" if isinstance(value, (bool, int)) else ""
        raise FieldInvalid(Fault.WRONG_TYPE, f"{shown(value)} is not {allowed}{hint}")
    name = value.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise FieldInvalid(Fault.OUT_OF_RANGE, f"{shown(value)} is not {allowed}")
    return name


def yes_or_no(value: Any) -> bool:
    """Accept true or false."""
    if not isinstance(value, bool):
        raise FieldInvalid(Fault.WRONG_TYPE, f"{shown(value)} is not true or false")
    return value


class OneOf[E: str]:
    """One word of a set: an enumeration, or the catalogue of kinds."""

    def __init__(self, words: Iterable[E]) -> None:
        """Allow these words, as they are when a value is looked at."""
        self._words = words

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        return f"one of {', '.join(self._words)}"

    def __call__(self, value: Any) -> E:
        """Return the member."""
        for word in self._words:
            if word == value:
                return word
        raise FieldInvalid(
            Fault.NOT_ALLOWED,
            f"{shown(value)} is not {self.allowed}",
        )


def time_zone(value: Any) -> ZoneInfo:
    """Accept the name of a time zone, such as Atlantic/Azores."""
    allowed = "the name of a time zone such as Atlantic/Azores or UTC"
    if not isinstance(value, str):
        raise FieldInvalid(Fault.WRONG_TYPE, f"{shown(value)} is not {allowed}")
    try:
        return ZoneInfo(value)
    except ZoneInfoNotFoundError, ValueError, OSError:
        pass
    raise FieldInvalid(Fault.NOT_ALLOWED, f"{shown(value)} is not {allowed}")


def clock_time(value: Any) -> time:
    """Accept a time of day in boat time, such as "19:30"."""
    if isinstance(value, time) and value.tzinfo is None:
        return value.replace(microsecond=0)
    match = _CLOCK_TIME.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is not None:
        hour, minute, second = (int(part or 0) for part in match.groups())
        if hour < 24 and minute < 60 and second < 60:
            return time(hour, minute, second)
    raise FieldInvalid(
        Fault.NOT_A_TIME,
        f'{shown(value)} is not a time of day such as "19:30", in quotation marks',
    )


class EntityId:
    """The id of an entity of certain domains."""

    def __init__(self, domains: tuple[str, ...], purpose: str) -> None:
        """Allow entities of `domains`, which are there for `purpose`."""
        self._domains = domains
        self.allowed = f"an entity id such as {domains[0]}.name that {purpose}"

    def __call__(self, value: Any) -> str:
        """Return the entity id."""
        match = _ENTITY_ID.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            raise FieldInvalid(
                Fault.NOT_AN_ENTITY, f"{shown(value)} is not {self.allowed}"
            )
        if match[1] not in self._domains:
            domains = ", ".join(self._domains)
            raise FieldInvalid(
                Fault.NOT_AN_ENTITY,
                f"{shown(value)} is not {self.allowed}; domains allowed: {domains}",
            )
        return str(value)


class SensorField:
    """A sensor: its entity id, or a mapping of `entity` and `unit`.

    A meter of what flows one way only may be `reversed`: its numbers are read with the
    other sign.
    """

    def __init__(
        self, units: Mapping[str, float], purpose: str, *, one_way: bool = False
    ) -> None:
        """Allow the given units, of which the first needs no mention."""
        self.units = units
        self.keys = ("entity", "unit", "reversed") if one_way else ("entity", "unit")
        self._entity = EntityId(NUMBER_DOMAINS, purpose)

    def __call__(self, value: Any) -> Sensor:
        """Return the sensor with the scale of its unit."""
        if not isinstance(value, Mapping):
            return Sensor(self._entity(value))
        for key in value:
            if key not in self.keys:
                raise FieldInvalid(
                    Fault.UNKNOWN_KEY,
                    f"unknown key; allowed are {', '.join(self.keys)}",
                    [str(key)],
                )
        if value.get("entity") is None:
            raise FieldInvalid(
                Fault.MISSING, f"missing; needed is {self._entity.allowed}", ["entity"]
            )
        try:
            entity_id = self._entity(value["entity"])
        except FieldInvalid as error:
            raise FieldInvalid(error.fault, error.msg, ["entity"]) from None
        return Sensor(entity_id, self._sign(value) * self._scale(value.get("unit")))

    def _scale(self, unit: Any) -> float:
        if unit is None:
            return 1.0
        if not isinstance(unit, str) or unit not in self.units:
            raise FieldInvalid(
                Fault.WRONG_UNIT,
                f"{shown(unit)} is not one of the units {', '.join(self.units)}",
                ["unit"],
            )
        return self.units[unit]

    def _sign(self, value: Mapping[str, Any]) -> float:
        given = value.get("reversed")
        try:
            return -1.0 if given is not None and yes_or_no(given) else 1.0
        except FieldInvalid as error:
            raise FieldInvalid(error.fault, error.msg, ["reversed"]) from None


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
        Fault.NOT_ALLOWED,
        f"{shown(value)} is not a sensor such as sensor.name nor the name of a solar"
        " forecast service",
    )
