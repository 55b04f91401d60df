"""A calendar of the boat's meals."""

from collections.abc import Iterable
from datetime import datetime
from typing import override

from homeassistant.components.calendar import (
    CalendarEntity,
    CalendarEntityDescription,
    CalendarEvent,
)
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from .core.meals.meal_builder import Meal
from .core.meals.meal_query import MealFilter
from .core.meals.meal_record import MealRecord
from .entity import BoatEntity
from .runtime import GalleyConfigEntry, GalleyRuntime

PARALLEL_UPDATES = 0

_DAY_S = 86400.0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's calendar."""
    async_add_entities([MealCalendar(entry.runtime_data)])


class MealCalendar(BoatEntity, CalendarEntity):
    """The meals of a boat. It is on while a meal is being cooked."""

    entity_description: CalendarEntityDescription

    def __init__(self, runtime: GalleyRuntime) -> None:
        """Show the boat's meal book."""
        super().__init__(
            runtime,
            CalendarEntityDescription(key="meals", translation_key="meals"),
        )
        self._attr_available = True
        self._shown: tuple[object, ...] = ()

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the meal book."""
        await super().async_added_to_hass()
        self.async_on_remove(self.runtime.meals.async_listen(self.async_write_ha_state))

    @override
    def _refresh(self) -> bool:
        """Tell of a meal that begins or ends, not of every watt-hour of it."""
        meal = None if self.view is None else self.view.current_meal
        shown = (None if meal is None else (round(meal.start_s), meal.appliances),)
        changed, self._shown = shown != self._shown, shown
        return changed

    @property
    @override
    def event(self) -> CalendarEvent | None:
        """The meal in progress, else the last one."""
        view = self.view
        if view is not None and view.current_meal is not None:
            meal = view.current_meal
            # Its end is not known; it is over when nothing joined it for a while.
            end_s = view.at_s + 60.0 * self.coordinator.boat.meal_gap_minutes
            return _event(meal.label, meal, end_s)
        newest = self.runtime.meals.newest
        return _event_of(newest[-1]) if newest else None

    @override
    async def async_get_events(
        self, hass: HomeAssistant, start_date: datetime, end_date: datetime
    ) -> list[CalendarEvent]:
        """Return the meals that share time with a span."""
        start_s, end_s = start_date.timestamp(), end_date.timestamp()
        wanted = MealFilter(from_s=start_s - 2 * _DAY_S, to_s=end_s)
        return [
            _event_of(record)
            async for record in self.runtime.meals.async_meals(wanted)
            if record.overlaps(start_s, end_s)
        ]


def _event_of(record: MealRecord) -> CalendarEvent:
    name = record.label if record.dish is None else f"{record.label}: {record.dish}"
    return _event(name, record.meal, record.end_s, record.meal_id)


def _event(
    name: str, meal: Meal, end_s: float, uid: str | None = None
) -> CalendarEvent:
    # An event has to last at least a moment.
    start_s, end_s = round(meal.start_s), max(round(end_s), round(meal.start_s) + 1)
    return CalendarEvent(
        start=dt_util.as_local(dt_util.utc_from_timestamp(start_s)),
        end=dt_util.as_local(dt_util.utc_from_timestamp(end_s)),
        summary=name[:1].upper() + name[1:],
        description="\n".join(_lines(meal)),
        uid=uid,
    )


def _lines(meal: Meal) -> Iterable[str]:
    yield ", ".join(meal.appliances)
    yield f"{meal.energy_wh:.0f} Wh, {meal.bank_ah:.1f} Ah at the bank"
    if meal.solar_share is not None:
        yield f"{100 * meal.solar_share:.0f} % from the sun"
