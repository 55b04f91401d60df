"""Actions that answer: advice on anything, a day's plan, and what if."""

from collections.abc import Mapping
from dataclasses import asdict
from functools import partial
from typing import Any, Final
from zoneinfo import ZoneInfo

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util import dt as dt_util

from ..advice.advice_runner import Circumstances, advise_on
from ..const import DOMAIN
from ..core.advice import DishRequest, advice_to_mapping
from ..core.advice.advice_report import iso
from ..core.advice.plan import DayPlan, plan_day
from ..core.advice.what_if import Changes, MonthsPast, NotEnoughPast, WhatIf, what_if
from ..core.boat.boat import Boat
from ..language.speech import english
from ..runtime import GalleyConfigEntry
from .action_input import bad_value, entry_of, number, schema
from .dish_input import CONF_DISH, DISH_FIELDS, known_dish, names_something, request_of
from .registration import async_register_action

CONF_DISHES: Final = "dishes"
CONF_SERIES: Final = "series"
CONF_DAYS: Final = "days"
CONF_CAPACITY: Final = "bank_capacity"
CONF_RESERVE: Final = "reserve"
CONF_ARRAY: Final = "array_power"

MOST_DISHES: Final = 12
DEFAULT_DAYS: Final = 90

_CHANGES: Final = {
    CONF_CAPACITY: "capacity_ah",
    CONF_RESERVE: "reserve_soc",
    CONF_ARRAY: "array_power_w",
}
_ALLOWED: Final = {
    CONF_CAPACITY: (1.0, 100_000.0, "Ah"),
    CONF_RESERVE: (0.0, 99.0, "%"),
    CONF_ARRAY: (1.0, 1_000_000.0, "W"),
}


@callback
def async_setup_advice_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    for name, handler, fields in (
        ("advise", _advise, (*DISH_FIELDS, CONF_SERIES)),
        ("plan_day", _plan_day, (CONF_DISHES,)),
        ("what_if", _what_if, (*_CHANGES, CONF_DAYS)),
    ):
        async_register_action(
            hass, name, handler, schema(optional=fields), SupportsResponse.ONLY
        )


async def _advise(call: ServiceCall) -> ServiceResponse:
    """Advise on a dish, on appliances and minutes, or on what is planned."""
    entry = entry_of(call.hass, call)
    with_series = call.data.get(CONF_SERIES, False)
    if not isinstance(with_series, bool):
        raise bad_value(CONF_SERIES, with_series, "true or false")
    return await async_advise(entry, call.data, with_series=with_series)


async def async_advise(
    entry: GalleyConfigEntry, data: Mapping[str, Any], *, with_series: bool = False
) -> dict[str, Any]:
    """Return the advice as plain data; the long tables only where they are wanted.

    Raises:
        ServiceValidationError: a field is wrong, or nothing is named and nothing planned.
        HomeAssistantError: the recorder's past is still being read.
    """
    runner = entry.runtime_data.advice
    request = _request(entry, data)
    advice = await runner.async_ask(partial(advise_on, request=request))
    speech = english(entry.runtime_data.coordinator.boat.time_zone)
    answer = advice_to_mapping(advice, speech.say_all(advice.reasons))
    if not with_series:
        del answer["starts"], answer["forecast"]
    return answer


def _request(entry: GalleyConfigEntry, data: Mapping[str, Any]) -> DishRequest:
    runtime = entry.runtime_data
    if not names_something(data):
        if (planned := runtime.advice.planned) is None:
            raise ServiceValidationError(
                translation_domain=DOMAIN,
                translation_key="nothing_to_advise_on",
                translation_placeholders={"boat": entry.title},
            )
        data = {**data, CONF_DISH: planned.name}
    return request_of(runtime.coordinator.boat, data, dt_util.utcnow().timestamp())


async def _plan_day(call: ServiceCall) -> ServiceResponse:
    """Place several dishes in the hours ahead."""
    entry = entry_of(call.hass, call)
    requests = _requests(
        entry.runtime_data.coordinator.boat, call.data.get(CONF_DISHES)
    )
    plan = await entry.runtime_data.advice.async_ask(partial(_plan, requests=requests))
    return _plan_to_mapping(plan, entry.runtime_data.coordinator.boat.time_zone)


def _requests(boat: Boat, value: Any) -> list[DishRequest]:
    """Return the requests: names of dishes, or mappings as for one advice."""
    listed = [value] if isinstance(value, str | Mapping) else value
    allowed = (
        f"up to {MOST_DISHES} dishes, each a name or appliances with their minutes"
    )
    if listed is None:
        listed = [dish.name for dish in boat.dishes][:MOST_DISHES]
    if not isinstance(listed, list) or not 0 < len(listed) <= MOST_DISHES:
        raise bad_value(CONF_DISHES, value, allowed)
    now_s = dt_util.utcnow().timestamp()
    requests: list[DishRequest] = []
    for one in listed:
        if isinstance(one, str):
            requests.append(DishRequest(known_dish(boat, one)))
        elif isinstance(one, Mapping) and set(one) <= set(DISH_FIELDS):
            requests.append(request_of(boat, one, now_s))
        else:
            raise bad_value(CONF_DISHES, one, allowed)
    return requests


def _plan(now: Circumstances, requests: list[DishRequest]) -> DayPlan:
    return plan_day(
        now.view,
        requests,
        now.at_s,
        newest_reading_s=now.newest_reading_s,
        said=now.said,
    )


def _plan_to_mapping(plan: DayPlan, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "at": iso(plan.at_s),
        "keeps_reserve": plan.keeps_reserve,
        "chance_above_reserve": round(plan.chance_above_reserve, 3),
        "drawn_ah": round(plan.drawn_ah, 2),
        "soc_lowest": _rounded(plan.soc_lowest),
        "soc_lowest_p10": _rounded(plan.soc_lowest_p10),
        "dishes": [
            {
                "dish": one.dish,
                "start": iso(one.start_s),
                "end": iso(one.end_s),
                "energy_wh": round(one.cost.energy_wh, 1),
                "drawn_ah": _rounded(one.drawn_ah),
                "from_sun_wh": _rounded(one.from_sun_wh),
            }
            for one in plan.dishes
        ],
        "reasons": english(zone).say_all(plan.reasons),
    }


async def _what_if(call: ServiceCall) -> ServiceResponse:
    """Replay the last months on another bank or array."""
    entry = entry_of(call.hass, call)
    days = number(call, CONF_DAYS, DEFAULT_DAYS, 3, 365)
    changes = Changes(
        **{
            name: _change(call, field)
            for field, name in _CHANGES.items()
            if field in call.data
        }
    )
    if changes == Changes():
        raise bad_value(
            ", ".join(_CHANGES), None, "at least one of them: what is to be other"
        )
    try:
        found = await entry.runtime_data.advice.async_ask(
            partial(_replay, changes=changes, days=days)
        )
    except NotEnoughPast as err:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="not_enough_past",
            translation_placeholders={
                "boat": entry.title,
                "problem": english().say(err.phrase),
            },
        ) from err
    return {"as_is": _past(found.as_is), "changed": _past(found.changed)}


def _change(call: ServiceCall, field: str) -> float:
    value = call.data[field]
    least, most, unit = _ALLOWED[field]
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not least <= value <= most
    ):
        raise bad_value(field, value, f"a number from {least:g} to {most:g} {unit}")
    return float(value)


def _replay(now: Circumstances, changes: Changes, days: int) -> WhatIf:
    return what_if(now.view, changes, days)


def _past(months: MonthsPast) -> dict[str, Any]:
    return {
        key: round(value, 2) if isinstance(value, float) else value
        for key, value in asdict(months).items()
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
