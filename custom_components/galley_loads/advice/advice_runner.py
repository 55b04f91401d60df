"""Advice on the planned dish and the day ahead, kept up to date.

Worked out on the quarter hour, when the crew plans another dish, and when sun or bank go
another way than expected; always in the executor, on an immutable picture of what is
known. Actions ask the same picture anything else.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
import logging
import time
from typing import Final

from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_track_utc_time_change

from ..const import DOMAIN
from ..coordinator import GalleyCoordinator
from ..core.advice import Advice, DishRequest, advise
from ..core.advice.day_ahead import DayAhead, day_ahead
from ..core.advice.departure import Departure
from ..core.boat.boat import Dish
from ..core.outlook.outlook_view import OutlookView
from ..core.phrase import Phrase
from ..state.listeners import Listeners
from .outlook_sources import OutlookSources

_LOGGER = logging.getLogger(__name__)

SHORTEST_PAUSE_S: Final = 300.0
"""Departures are not answered more often than this; a quarter hour always is."""

SUN_KEPT_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What advice depends on beside the outlook: taken when the outlook is."""

    view: OutlookView
    at_s: float
    said: tuple[Phrase, ...]
    newest_reading_s: float | None
    cooking_now: str | None


@dataclass(frozen=True, slots=True)
class Result:
    """The newest outlook; `advice` is None where no dish is planned."""

    view: OutlookView
    day: DayAhead
    advice: Advice | None


class AdviceRunner:
    """Keeps one boat's advice; tells its listeners when there is a new one."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start without a planned dish."""
        self._hass = hass
        self._coordinator = coordinator
        self._sources = OutlookSources(hass, coordinator)
        self._results = Listeners[[]]()
        self._plans = Listeners[[]]()
        self._running = asyncio.Lock()
        self._asked = False
        self._departure: Departure | None = None
        self._ran_s: float | None = None
        self._generation = coordinator.generation
        self._sun_wh: dict[int, float] = {}
        self.planned: Dish | None = None
        self.result: Result | None = None

    @callback
    def async_start(self) -> None:
        """Work as long as the boat is loaded."""
        entry = self._coordinator.config_entry
        entry.async_on_unload(
            async_track_utc_time_change(
                self._hass, self._async_quarter, minute=(0, 15, 30, 45), second=2
            )
        )
        entry.async_on_unload(
            self._coordinator.async_add_listener(self._async_published)
        )

    @callback
    def async_listen(self, listener: CALLBACK_TYPE) -> CALLBACK_TYPE:
        """Call `listener` whenever there is a new result, until unsubscribed."""
        return self._results.async_add(listener)

    @callback
    def async_listen_plans(self, listener: CALLBACK_TYPE) -> CALLBACK_TYPE:
        """Call `listener` whenever another dish is planned, until unsubscribed."""
        return self._plans.async_add(listener)

    @property
    def sun_wh(self) -> dict[int, float]:
        """The expected sun by full hour (Unix time), Wh; earlier hours as last told."""
        return self._sun_wh

    # When

    @callback
    def async_plan(self, dish: Dish | None) -> None:
        """Advise on this dish from now on, or on none."""
        if dish == self.planned:
            return
        self.planned = dish
        self._plans.async_notify()
        self._ask()

    @callback
    def _async_quarter(self, _: object) -> None:
        self._ask()

    @callback
    def _async_published(self) -> None:
        view = self._coordinator.data
        if view is None or self._coordinator.catching_up:
            return
        knows_more = self._generation != self._coordinator.generation
        if (
            knows_more
            or self._ran_s is None
            or (
                self._departure is not None
                and self._departure.observe(view.at_s, view.solar_w, view.soc)
                and time.time() - self._ran_s >= SHORTEST_PAUSE_S
            )
        ):
            self._ask()

    @callback
    def _ask(self) -> None:
        """Have the advice worked out, once for all who ask meanwhile."""
        if self._asked or self._coordinator.catching_up:
            return
        self._asked = True
        self._coordinator.config_entry.async_create_background_task(
            self._hass, self._async_run(), f"{self._coordinator.name} advice"
        )

    # How

    async def async_circumstances(self) -> Circumstances:
        """Return what is known now.

        Raises:
            HomeAssistantError: the recorder's past is still being read.
        """
        if self._coordinator.catching_up:
            raise HomeAssistantError(
                translation_domain=DOMAIN, translation_key="still_catching_up"
            )
        view = await self._coordinator.async_with_engine(
            lambda engine: engine.outlook().view()
        )
        live = self._coordinator.data
        meal = None if live is None else live.current_meal
        return Circumstances(
            view,
            time.time(),
            () if live is None else live.complaints,
            self._newest_reading_s(),
            meal.label
            if meal is not None and live is not None and live.cooking
            else None,
        )

    async def async_ask[T](self, question: Callable[[Circumstances], T]) -> T:
        """Return the answer to a question, worked out in the executor.

        Raises:
            HomeAssistantError: the recorder's past is still being read.
        """
        now = await self.async_circumstances()
        return await self._hass.async_add_executor_job(question, now)

    def _newest_reading_s(self) -> float | None:
        """Return when one of the boat's sensors last reported a value."""
        reported = [
            state.last_reported_timestamp
            for entity_id in self._coordinator.sources.entity_ids
            if (state := self._hass.states.get(entity_id)) is not None
            and state.state not in (STATE_UNAVAILABLE, STATE_UNKNOWN)
        ]
        return max(reported, default=None)

    async def _async_run(self) -> None:
        async with self._running:
            self._asked = False
            self._ran_s, self._generation = time.time(), self._coordinator.generation
            dish = self.planned
            await self._sources.async_refresh()
            started = time.perf_counter()
            result = await self.async_ask(lambda now: _work_out(now, dish))
            _LOGGER.debug(
                "%s: outlook took %.0f ms",
                self._coordinator.name,
                1000 * (time.perf_counter() - started),
            )
            if dish != self.planned:
                # Planned anew meanwhile; that has been asked for.
                return
            self._keep(result)
        self._results.async_notify()

    def _keep(self, result: Result) -> None:
        self.result = result
        day = result.day
        self._departure = Departure(day.course, result.view.array_w)
        known = {**self._sun_wh, **_begun_hour_kept(self._sun_wh, day.sun_wh)}
        oldest_s = day.at_s - SUN_KEPT_S
        self._sun_wh = {hour: wh for hour, wh in known.items() if hour >= oldest_s}


def _begun_hour_kept(
    before: dict[int, float], after: dict[int, float]
) -> dict[int, float]:
    """Return the new forecast; of the hour that has begun the whole told before counts."""
    begun = min(after, default=0)
    return after | ({begun: before[begun]} if begun in before else {})


def _work_out(now: Circumstances, dish: Dish | None) -> Result:
    day = day_ahead(
        now.view,
        now.at_s,
        said=now.said,
        newest_reading_s=now.newest_reading_s,
        cooking_now=now.cooking_now,
    )
    advice = None if dish is None else advise_on(now, DishRequest(dish))
    return Result(now.view, day, advice)


def advise_on(now: Circumstances, request: DishRequest) -> Advice:
    """Return the advice on a request as things stand."""
    return advise(
        now.view,
        request,
        now.at_s,
        said=now.said,
        newest_reading_s=now.newest_reading_s,
        cooking_now=now.cooking_now,
    )
