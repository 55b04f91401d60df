"""What a user hands to an action, read with one clear error for each thing wrong.

The schema of an action only knows its fields. Values are read here, so that whoever calls
it, in the interface, an automation or over the web, gets a translated sentence that names
the field, the value and what is allowed.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from typing import Any

from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import service
from homeassistant.util import dt as dt_util
import probatio

from ..const import DOMAIN
from ..runtime import GalleyConfigEntry

LONGEST_TEXT = 100
FIRST_S = datetime(1, 1, 3, tzinfo=UTC).timestamp()
LAST_S = datetime(9999, 12, 29, tzinfo=UTC).timestamp()


def schema(
    required: Iterable[str] = (), optional: Iterable[str] = ()
) -> probatio.Schema:
    """Return the schema of an action that works on one boat."""
    fields: dict[probatio.Marker, Any] = {probatio.Optional(ATTR_CONFIG_ENTRY_ID): str}
    fields |= {probatio.Required(name): object for name in required}
    fields |= {probatio.Optional(name): object for name in optional}
    return probatio.Schema(fields)


def entry_of(hass: HomeAssistant, call: ServiceCall) -> GalleyConfigEntry:
    """Return the boat an action is meant for; with only one it need not be named.

    Raises:
        ServiceValidationError: there is none of that id, or it is not loaded.
    """
    entry: GalleyConfigEntry = service.async_get_config_entry(
        hass, DOMAIN, call.data.get(ATTR_CONFIG_ENTRY_ID)
    )
    return entry


def bad_value(field: str, value: Any, allowed: str) -> ServiceValidationError:
    """Return the error that says what is wrong with a field."""
    return ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key="bad_value",
        translation_placeholders={
            "field": field,
            "value": "nothing" if value is None else str(value)[:LONGEST_TEXT],
            "allowed": allowed,
        },
    )


def text(call: ServiceCall, field: str) -> str | None:
    """Return a text without spaces around it, None where the field is left out."""
    if field not in call.data:
        return None
    value = call.data[field]
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        raise bad_value(field, value, f"a text of at most {LONGEST_TEXT} characters")
    line = " ".join(value.split())
    if not line.isprintable():
        # What turns the direction of writing would show another text than is kept.
        raise bad_value(field, value, "a text of printable characters")
    return line


def texts(call: ServiceCall, field: str) -> list[str]:
    """Return a list of texts; a single one is a list of one."""
    value = call.data[field]
    values = value if isinstance(value, list) else [value]
    if not values or not all(isinstance(one, str) and one.strip() for one in values):
        raise bad_value(field, value, "one or more texts that are not empty")
    return [one.strip() for one in values]


def number(call: ServiceCall, field: str, default: int, least: int, most: int) -> int:
    """Return a whole number within bounds."""
    value = call.data.get(field, default)
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or value != int(value)
        or not least <= value <= most
    ):
        raise bad_value(field, value, f"a whole number from {least} to {most}")
    return int(value)


def flag(call: ServiceCall, field: str) -> bool:
    """Return a yes or no; left out means no."""
    value = call.data.get(field, False)
    if not isinstance(value, bool):
        raise bad_value(field, value, "true or false")
    return value


def choice[T: StrEnum](
    call: ServiceCall, field: str, choices: type[T], default: T
) -> T:
    """Return one of several words."""
    value = call.data.get(field, default)
    try:
        return choices(value)
    except ValueError:
        raise bad_value(field, value, ", ".join(choices)) from None


def moment(
    call: ServiceCall, field: str, zone: tzinfo, *, end: bool = False
) -> float | None:
    """Return a time in Unix seconds, None where the field is left out.

    A time without an offset is boat time. A date alone is the whole day: its beginning,
    or with `end` its end.
    """
    if field not in call.data:
        return None
    value = call.data[field]
    at = _read_moment(value)
    if at is None:
        raise bad_value(
            field, value, "a date and time such as 2026-05-12 18:30, or a date"
        )
    if not isinstance(at, datetime):
        day = at + timedelta(days=1) if end and at < date.max else at
        at = datetime.combine(day, time())
    if at.tzinfo is None:
        at = at.replace(tzinfo=zone)
    # In another zone the calendar's first and last days may lie beyond it.
    return min(max(at.timestamp(), FIRST_S), LAST_S)


def _read_moment(value: Any) -> date | datetime | None:
    if isinstance(value, date):
        return value
    if not isinstance(value, str):
        return None
    try:
        if len(value) == len("2026-05-12"):
            return dt_util.parse_date(value)
        return dt_util.parse_datetime(value)
    except ValueError, OverflowError:
        return None
