"""What somebody wants to cook, as handed to an action or a tool, turned into a request.

A dish of the boat by name, or appliances with minutes, or watt-hours. What is wrong is
said in one sentence that names the field, the value and what is allowed.
"""

from collections.abc import Mapping
from datetime import datetime, time
from typing import Any, Final

from homeassistant.util import dt as dt_util

from ..core.advice import DishRequest
from ..core.advice.request import next_time_s
from ..core.boat.boat import Boat, Dish
from .action_input import bad_value

CONF_DISH: Final = "dish"
CONF_APPLIANCES: Final = "appliances"
CONF_ENERGY: Final = "energy"
CONF_READY_BY: Final = "ready_by"
CONF_EARLIEST: Final = "earliest"
CONF_INSTEAD_OF: Final = "instead_of"

DISH_FIELDS: Final = (
    CONF_DISH,
    CONF_APPLIANCES,
    CONF_ENERGY,
    CONF_READY_BY,
    CONF_EARLIEST,
    CONF_INSTEAD_OF,
)

LONGEST_MINUTES: Final = 1440.0
MOST_WH: Final = 100_000.0


def request_of(boat: Boat, data: Mapping[str, Any], now_s: float) -> DishRequest:
    """Return the request that the fields make.

    Raises:
        ServiceValidationError: a field is wrong, or they say nothing to cook.
    """
    dish = _dish(boat, data)
    return DishRequest(
        dish,
        first_start_s=_time_s(boat, data, CONF_EARLIEST, now_s),
        ready_by_s=_time_s(boat, data, CONF_READY_BY, now_s),
        instead_of=data.get(CONF_INSTEAD_OF) or None,
    )


def names_something(data: Mapping[str, Any]) -> bool:
    """Whether the fields say what is to be cooked."""
    return any(data.get(key) for key in (CONF_DISH, CONF_APPLIANCES, CONF_ENERGY))


def known_dish(boat: Boat, name: Any) -> Dish:
    """Return the boat's dish of that name, whatever its capitals.

    Raises:
        ServiceValidationError: there is none.
    """
    if isinstance(name, str):
        wanted = name.strip().casefold()
        for dish in boat.dishes:
            if dish.name.casefold() == wanted:
                return dish
    allowed = ", ".join(dish.name for dish in boat.dishes)
    raise bad_value(
        CONF_DISH, name, f"one of the boat's dishes: {allowed or 'it has none yet'}"
    )


def _dish(boat: Boat, data: Mapping[str, Any]) -> Dish:
    minutes = _minutes(boat, data.get(CONF_APPLIANCES))
    energy_wh = _energy_wh(data.get(CONF_ENERGY))
    name = data.get(CONF_DISH)
    if not minutes and energy_wh is None:
        return known_dish(boat, name)
    title = name.strip() if isinstance(name, str) else ""
    return Dish(title or " and ".join(minutes) or "this", minutes, energy_wh)


def _minutes(boat: Boat, value: Any) -> dict[str, float]:
    if value is None:
        return {}
    if not isinstance(value, Mapping) or not value:
        raise bad_value(
            CONF_APPLIANCES, value, "appliances with their minutes, such as Oven: 40"
        )
    names = {a.name.casefold(): a.name for a in boat.appliances}
    minutes: dict[str, float] = {}
    for key, amount in value.items():
        name = names.get(str(key).strip().casefold())
        if name is None:
            allowed = ", ".join(names.values()) or "the boat has none yet"
            raise bad_value(CONF_APPLIANCES, key, f"appliances of the boat: {allowed}")
        minutes[name] = _number(
            f"{CONF_APPLIANCES}: {name}", amount, LONGEST_MINUTES, "minutes"
        )
    return minutes


def _energy_wh(value: Any) -> float | None:
    return None if value is None else _number(CONF_ENERGY, value, MOST_WH, "Wh")


def _number(field: str, value: Any, most: float, unit: str) -> float:
    allowed = f"a number of {unit} above 0, at most {most:g}"
    if isinstance(value, bool):
        raise bad_value(field, value, allowed)
    try:
        number = float(value)
    except TypeError, ValueError:
        raise bad_value(field, value, allowed) from None
    if not 0.0 < number <= most:
        raise bad_value(field, value, allowed)
    return number


def _time_s(
    boat: Boat, data: Mapping[str, Any], field: str, now_s: float
) -> float | None:
    """Return a moment: a time of day is the next such on the boat's clock."""
    value = data.get(field)
    if value is None or value == "":
        return None
    read = _read_time(value)
    if isinstance(read, time):
        return next_time_s(boat, now_s, read)
    if read is None:
        raise bad_value(
            field, value, "a time such as 19:30, or a date and time 2026-05-12 19:30"
        )
    if read.tzinfo is None:
        read = read.replace(tzinfo=boat.time_zone)
    if read.timestamp() < now_s:
        raise bad_value(field, value, "a time that is still to come")
    return read.timestamp()


def _read_time(value: Any) -> time | datetime | None:
    if isinstance(value, time | datetime):
        return value
    if not isinstance(value, str):
        return None
    try:
        return dt_util.parse_time(value.strip()) or dt_util.parse_datetime(
            value.strip()
        )
    except ValueError:
        return None
