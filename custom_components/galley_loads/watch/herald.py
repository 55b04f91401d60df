"""Carries the news of one boat from the core to entities, event bus and automations."""

from collections.abc import Callable
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from ..advice.advice_runner import AdviceRunner
from ..const import DOMAIN, EVENT_NEWS
from ..coordinator import GalleyCoordinator
from ..core.events import Event
from ..core.live.live_view import LiveView
from ..core.occasions.facts import Facts
from ..core.occasions.news_item import News, NewsKind
from ..core.occasions.news_watch import NewsWatch
from ..meals.expected_meal import ExpectedMeal
from ..state.listeners import Listeners
from .night_ahead import NightAhead

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

    def __init__(
        self,
        hass: HomeAssistant,
        coordinator: GalleyCoordinator,
        advice: AdviceRunner,
        expected: ExpectedMeal,
        night: NightAhead,
    ) -> None:
        """Start with nothing seen: what goes on already is no news."""
        self._hass = hass
        self._coordinator = coordinator
        self._advice = advice
        self._expected = expected
        self._night = night
        self._watch = NewsWatch(coordinator.boat)
        self._news = Listeners[News]()
        self._recalled = False

    @callback
    def async_start(self) -> None:
        """Watch as long as the boat is loaded."""
        entry = self._coordinator.config_entry
        entry.async_on_unload(
            self._coordinator.async_add_listener(self._async_published)
        )
        entry.async_on_unload(self._coordinator.async_subscribe(self._async_settled))
        entry.async_on_unload(self._advice.async_listen(self._async_advised))
        entry.async_on_unload(self._advice.async_listen_plans(self._watch.plan))

    @callback
    def async_subscribe(self, listener: NewsListener) -> CALLBACK_TYPE:
        """Call `listener` with each piece of news, until unsubscribed."""
        return self._news.async_add(listener)

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
        return Facts(view.at_s, view, discharge_a, self._night.outlook)

    @callback
    def _async_settled(self, events: list[Event], is_news: bool) -> None:
        news = self._watch.settle(events, self._expected.meals.reckon)
        if is_news:
            self._tell(news)

    @callback
    def _async_advised(self) -> None:
        """Take the advice on the planned dish, and once how long appliances usually run.

        The engine remembers that, not the watch.
        """
        if (result := self._advice.result) is None:
            return
        if not (self._recalled or self._coordinator.provisional):
            self._recalled = True
            runs = result.view.cookbook.runs
            self._watch.recall(
                {name: [row[0] for row in rows] for name, rows in runs.items()}
            )
        if (advice := result.advice) is not None:
            self._tell(self._watch.advise(advice.at_s, advice.dish, advice.verdict))

    def _tell(self, news: list[News]) -> None:
        for one in news:
            self._news.async_call(one)
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
