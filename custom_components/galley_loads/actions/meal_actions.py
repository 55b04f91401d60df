"""Actions on the meal book: list, sum, export, label, split, join, delete."""

from collections.abc import Callable
from datetime import tzinfo
from typing import Any, Final, cast

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util.json import JsonValueType

from ..const import DOMAIN
from ..core.meals.meal_edits import MealEditError
from ..core.meals.meal_export_formats import meal_details, meal_row
from ..core.meals.meal_query import Grouping, MealFilter, MealSum, MealTally
from ..core.meals.meal_record import MealRecord
from ..language.meal_summary import summary_lines
from ..language.speech import english
from ..meals.gas_used import gas_of
from ..runtime import GalleyConfigEntry
from ..state.meal_store import MealNotFoundError
from .action_input import (
    bad_value,
    choice,
    entry_of,
    flag,
    moment,
    number,
    schema,
    text,
    texts,
)
from .meal_export import export_urls
from .registration import async_register_action

FILTERS: Final = ("from", "to", "label", "dish", "appliance")

MOST_MEALS: Final = 1000
"""So many meals are listed at most; the export has all of them."""


@callback
def async_setup_meal_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    for name, handler, fields, response in (
        (
            "list_meals",
            _list_meals,
            schema(optional=(*FILTERS, "limit", "runs")),
            SupportsResponse.ONLY,
        ),
        (
            "sum_meals",
            _sum_meals,
            schema(optional=(*FILTERS, "by")),
            SupportsResponse.ONLY,
        ),
        (
            "export_meals",
            _export_meals,
            schema(optional=(*FILTERS, "by")),
            SupportsResponse.ONLY,
        ),
        (
            "label_meal",
            _label_meal,
            schema(("meal",), ("label", "dish")),
            SupportsResponse.OPTIONAL,
        ),
        (
            "split_meal",
            _split_meal,
            schema(("meal", "at")),
            SupportsResponse.OPTIONAL,
        ),
        ("join_meals", _join_meals, schema(("meals",)), SupportsResponse.OPTIONAL),
        ("delete_meal", _delete_meal, schema(("meal",)), SupportsResponse.OPTIONAL),
    ):
        async_register_action(hass, name, handler, fields, response)


def meal_filter(call: ServiceCall, entry: GalleyConfigEntry) -> MealFilter:
    """Return which meals an action is about.

    Raises:
        ServiceValidationError: names the field, the value and what is allowed.
    """
    zone = entry.runtime_data.coordinator.boat.time_zone
    from_s = moment(call, "from", zone)
    to_s = moment(call, "to", zone, end=True)
    if from_s is not None and to_s is not None and to_s <= from_s:
        raise bad_value(
            "to", call.data["to"], f"a time after from, {call.data['from']}"
        )
    return MealFilter(
        from_s,
        to_s,
        text(call, "label") or None,
        text(call, "dish") or None,
        text(call, "appliance") or None,
    )


async def _list_meals(call: ServiceCall) -> ServiceResponse:
    """Return the newest meals that are meant, in order of time, and how many there are."""
    entry = entry_of(call.hass, call)
    wanted = meal_filter(call, entry)
    limit = number(call, "limit", 100, 1, MOST_MEALS)
    row: Callable[[MealRecord, tzinfo], Any] = (
        meal_details if flag(call, "runs") else meal_row
    )
    zone = entry.runtime_data.coordinator.boat.time_zone
    newest: list[MealRecord] = []
    count = 0
    async for record in entry.runtime_data.meals.async_meals(wanted):
        count += 1
        newest.append(record)
        if len(newest) > 2 * limit:
            del newest[:-limit]
    rows: list[JsonValueType] = [
        {**row(record, zone), "propane_g": _propane_g(entry, record.meal.energy_wh)}
        for record in newest[-limit:]
    ]
    return {"count": count, "meals": rows}


async def _sum_meals(call: ServiceCall) -> ServiceResponse:
    """Return what the meals that are meant come to, by group."""
    entry = entry_of(call.hass, call)
    wanted = meal_filter(call, entry)
    grouping = choice(call, "by", Grouping, Grouping.ALL)
    tally = MealTally(grouping, entry.runtime_data.coordinator.boat.time_zone)
    async for record in entry.runtime_data.meals.async_meals(wanted):
        tally.add(record)
    sums: list[JsonValueType] = [_sum_row(entry, one) for one in tally.sums()]
    return {"by": grouping.value, "sums": sums}


def _propane_g(entry: GalleyConfigEntry, energy_wh: float) -> float:
    return round(gas_of(energy_wh, entry.options), 1)


def _sum_row(entry: GalleyConfigEntry, group: MealSum) -> dict[str, Any]:
    share = group.solar_share
    return {
        "group": group.group,
        "meals": group.meals,
        "energy_wh": round(group.energy_wh, 1),
        "bank_ah": round(group.bank_ah, 2),
        "drawn_ah": round(group.drawn_ah, 2),
        "solar_share": None if share is None else round(share, 3),
        "propane_g": _propane_g(entry, group.energy_wh),
    }


async def _export_meals(call: ServiceCall) -> ServiceResponse:
    """Return a text to share, and where the files are to be had."""
    entry = entry_of(call.hass, call)
    wanted = meal_filter(call, entry)
    zone = entry.runtime_data.coordinator.boat.time_zone
    tally = MealTally(choice(call, "by", Grouping, Grouping.ALL), zone)
    newest: list[MealRecord] = []
    async for record in entry.runtime_data.meals.async_meals(wanted):
        tally.add(record)
        newest.append(record)
        if len(newest) > 2 * MOST_MEALS:
            del newest[:-MOST_MEALS]
    name = entry.runtime_data.coordinator.boat.name
    lines = summary_lines(name, newest[-MOST_MEALS:], tally, english(zone))
    return {"text": "\n".join(lines), **export_urls(entry, wanted)}


async def _label_meal(call: ServiceCall) -> ServiceResponse:
    """Give a meal a label, or tie it to one of the boat's dishes."""
    entry = entry_of(call.hass, call)
    label, dish = text(call, "label"), text(call, "dish")
    if label is None and dish is None:
        raise bad_value("label", None, "a label, a dish, or both; empty to clear one")
    if dish:
        names = [one.name for one in entry.runtime_data.coordinator.boat.dishes]
        known = {name.casefold(): name for name in names}
        if (dish := known.get(dish.casefold())) is None:
            allowed = ", ".join(names) or "no dish, as the boat has none yet"
            raise bad_value("dish", call.data["dish"], allowed)
    return await _edited(
        call, lambda meal_id: entry.runtime_data.meals.async_label(meal_id, label, dish)
    )


async def _split_meal(call: ServiceCall) -> ServiceResponse:
    """Cut a meal in two."""
    entry = entry_of(call.hass, call)
    at_s = moment(call, "at", entry.runtime_data.coordinator.boat.time_zone)
    if at_s is None:
        raise bad_value("at", None, "a date and time")
    return await _edited(
        call, lambda meal_id: entry.runtime_data.meals.async_split(meal_id, at_s)
    )


async def _delete_meal(call: ServiceCall) -> ServiceResponse:
    """Take a meal out of the book."""
    entry = entry_of(call.hass, call)
    return await _edited(call, entry.runtime_data.meals.async_delete)


async def _join_meals(call: ServiceCall) -> ServiceResponse:
    """Make one meal of several."""
    entry = entry_of(call.hass, call)
    meal_ids = texts(call, "meals")
    return await _edited(
        call, lambda _: entry.runtime_data.meals.async_join(meal_ids), "meals"
    )


async def _edited(
    call: ServiceCall, edit: Callable[[str], Any], field: str = "meal"
) -> ServiceResponse:
    """Do an edit; return the meals that came of it."""
    entry = entry_of(call.hass, call)
    meal_id = texts(call, field)[0]
    try:
        done = await edit(meal_id)
    except MealNotFoundError as err:
        raise bad_value(
            field, err.args[0], "the id of a meal in the book, as list_meals gives it"
        ) from err
    except MealEditError as err:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key=err.key,
            translation_placeholders={
                "meals": ", ".join(texts(call, field)),
                "at": str(call.data.get("at", "")),
            },
        ) from err
    records = done if isinstance(done, tuple) else (done,)
    zone = entry.runtime_data.coordinator.boat.time_zone
    rows: list[JsonValueType] = [
        cast(Any, meal_row(record, zone)) for record in records
    ]
    return {"meals": rows}
