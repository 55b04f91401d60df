"""Carries the news of one boat from the core to entities, event bus and automations."""

from collections.abc import Callable
from contextlib import suppress
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from ..const import DOMAIN, EVENT_NEWS
from ..coordinator import GalleyCoordinator
from ..core.advice import Advice
from ..core.events import Event
from ..core.live import LiveView
from ..core.meals.dish_cost import CookbookPage
from ..core.occasions.facts import Facts
from ..core.occasions.news_item import News, NewsKind
from ..core.occasions.news_watch import NewsWatch

type NewsListener = Callable[[News], None]

IN_LOGBOOK: Final = frozenset(
    {
        NewsKind.ADVICE_CHANGED,
        NewsKind.STANDBY_LEFT_ON,
        NewsKind.RESERVE_AT_RISK,
        NewsKind.OVERLOAD_NEAR,
    }
)
"""News that the logbook has a line for; runs and meals have one when they are settled."""


class Herald:
    """Watches what the coordinator publishes, and tells each piece of news once."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing seen: what goes on already is no news."""
        self._hass = hass
        self._coordinator = coordinator
        self._watch = NewsWatch(coordinator.boat)
        self._listeners: list[NewsListener] = []
        self._recalled = False

    @callback
    def async_start(self) -> None:
        """Watch as long as the boat is loaded."""
        entry = self._coordinator.config_entry
        entry.async_on_unload(
            self._coordinator.async_add_listener(self._async_published)
        )
        entry.async_on_unload(self._coordinator.async_subscribe(self._async_settled))

    @callback
    def async_subscribe(self, listener: NewsListener) -> CALLBACK_TYPE:
        """Call `listener` with each piece of news, until unsubscribed."""
        self._listeners.append(listener)

        @callback
        def unsubscribe() -> None:
            with suppress(ValueError):
                self._listeners.remove(listener)

        return unsubscribe

    @callback
    def _async_published(self) -> None:
        view = self._coordinator.data
        # Before the past is read, what is shown may still be explained otherwise.
        if (
            view is None
            or self._coordinator.catching_up
            or self._coordinator.provisional
        ):
            return
        self._tell(self._watch.observe(self._facts(view)))

    def _facts(self, view: LiveView) -> Facts:
        discharge_a: float | None = None
        if view.battery_w is not None:
            volts = view.voltage_v or self._coordinator.boat.bank.nominal_voltage_v
            discharge_a = -view.battery_w / volts
        return Facts(view.at_s, view, discharge_a, self._coordinator.watch.night)

    @callback
    def _async_settled(self, events: list[Event], is_news: bool) -> None:
        news = self._watch.settle(events, self._coordinator.expected.meals.reckon)
        if is_news:
            self._tell(news)

    @callback
    def async_recall(self, cookbook: CookbookPage) -> None:
        """Take how long appliances usually run, once: the engine keeps it, not the watch."""
        if not self._recalled:
            self._recalled = True
            self._watch.recall(
                {name: [row[0] for row in runs] for name, runs in cookbook.runs.items()}
            )

    @callback
    def async_planned(self) -> None:
        """Take that the crew has planned another dish, or none."""
        self._watch.plan()

    @callback
    def async_advised(self, advice: Advice) -> None:
        """Take the advice on the planned dish."""
        self._tell(self._watch.advise(advice.at_s, advice.dish, advice.verdict))

    def _tell(self, news: list[News]) -> None:
        for one in news:
            for listener in list(self._listeners):
                listener(one)
            if one.kind in IN_LOGBOOK:
                entry = self._coordinator.config_entry
                data: dict[str, Any] = {
                    "entry_id": entry.entry_id,
                    "boat": entry.title,
                    "kind": one.kind.value,
                    "subject": one.subject,
                    "entity_id": self._entity_id(one.kind),
                    **attributes_of(one),
                }
                self._hass.bus.async_fire(EVENT_NEWS, data)

    def _entity_id(self, kind: NewsKind) -> str | None:
        """Return the event entity that tells this kind."""
        key = "advice_change" if kind is NewsKind.ADVICE_CHANGED else "warning"
        unique_id = f"{self._coordinator.config_entry.entry_id}_{key}"
        return er.async_get(self._hass).async_get_entity_id("event", DOMAIN, unique_id)


def attributes_of(news: News) -> dict[str, Any]:
    """Return the details of a piece of news as an automation reads them.

    Times are ISO texts in UTC under the name without its unit: `started_s` is `started`.
    """
    return {
        key.removesuffix("_s"): _iso(value)
        if key.endswith("_s") and isinstance(value, float)
        else value
        for key, value in news.details.items()
        if value is not None
    }


def _iso(at_s: float) -> str:
    return dt_util.utc_from_timestamp(round(at_s)).isoformat()
