"""The watch: the present and what is settled come in, news goes out.

The first moment after a start is what everything is compared with; nothing in it is
news. So a restart in the middle of a meal tells nothing twice, and what begins while
nobody watches is not told at all.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from ..advice import Verdict
from ..boat.boat import Boat
from ..events import Event, MealSettled, RunSettled
from ..inference.model.activity import Run
from ..meals.dish_cost import Reckoning
from ..meals.meal_builder import HOT_DRINK, Meal
from .cooking import CookingNews
from .facts import Facts
from .idle_circuits import IdleCircuits
from .news_item import Detail, News, NewsKind
from .occasion import Occasion
from .supply import Limits, Night

_MOST_TOLD: Final = 100


class NewsWatch:
    """Tells the news of one boat; a pure machine, deterministic in what it is told."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self._cooking = CookingNews(boat)
        self._circuits = IdleCircuits(boat)
        self._limits = Limits(boat)
        self._night = Night(boat)
        self._told: dict[str, None] = {}
        self._verdict: tuple[str, Verdict] | None = None
        self._first = True

    def learn(self, runs: Iterable[Event]) -> None:
        """Take runs of the past as habits; nothing of it is news."""
        for event in runs:
            if isinstance(event, RunSettled):
                self._cooking.settle(event.run)

    def recall(self, minutes: Mapping[str, Iterable[float]]) -> None:
        """Take how long appliances have run before, by name: habits outlive a restart."""
        for name, lengths in minutes.items():
            for length in lengths:
                self._cooking.settle(Run(name, 0.0, 60.0 * length, 0.0, 0.0, 1.0, ()))

    def observe(self, facts: Facts) -> list[News]:
        """Take a moment; return what is new in it. Times never go back."""
        first, self._first = self._first, False
        news = self._cooking.observe(facts, first=first)
        news += self._circuits.observe(facts.at_s, facts.live)
        limits = self._limits.observe(facts)
        night = self._night.observe(facts)
        for kind, standing in (
            (NewsKind.OVERLOAD_NEAR, limits),
            (NewsKind.RESERVE_AT_RISK, night),
        ):
            new = self._new(kind, standing)
            if not first:
                news += [self._warning(kind, one, facts) for one in new]
        return news

    def _new(self, kind: NewsKind, standing: Iterable[Occasion]) -> list[Occasion]:
        """Return the occasions that were not told before, and remember them as told."""
        new: list[Occasion] = []
        for one in standing:
            name = f"{kind.value}|{one.subject}|{one.key}"
            if name not in self._told:
                self._told[name] = None
                new.append(one)
        while len(self._told) > _MOST_TOLD:
            del self._told[next(iter(self._told))]
        return new

    def _warning(self, kind: NewsKind, occasion: Occasion, facts: Facts) -> News:
        night = facts.night
        if kind is NewsKind.RESERVE_AT_RISK and night is not None:
            return News(
                kind,
                "",
                facts.at_s,
                {
                    "lowest_soc": round(max(night.lowest_soc, 0.0), 1),
                    "lowest_at_s": night.lowest_at_s,
                    "chance": round(night.chance_below, 2),
                },
            )
        return News(
            kind,
            occasion.subject,
            facts.at_s,
            {"load_w": _rounded(facts.live.load_w), "advice": occasion.message},
        )

    def settle(
        self,
        events: Iterable[Event],
        reckon: Callable[[Meal], Reckoning | None] = lambda _: None,
    ) -> list[News]:
        """Take what is settled; return the meals that are over.

        `reckon` tells of a meal what had been planned, None if nothing.
        """
        listed = list(events)
        self.learn(listed)
        return [
            meal_news(event.meal, reckon(event.meal))
            for event in listed
            if isinstance(event, MealSettled)
        ]

    def plan(self) -> None:
        """Take that the crew has planned anew: the next advice is an answer, no news."""
        self._verdict = None

    def advise(self, at_s: float, dish: str, verdict: Verdict) -> list[News]:
        """Take the advice on the planned dish; return a change of it.

        The first advice on a dish is an answer to whoever planned it, no news; and not to
        know for a while is no change.
        """
        before, unknown = self._verdict, verdict is Verdict.UNKNOWN
        if before is None or before[0] != dish:
            self._verdict = None if unknown else (dish, verdict)
            return []
        if unknown or before[1] is verdict:
            return []
        self._verdict = (dish, verdict)
        details = {"before": before[1].value, "verdict": verdict.value}
        return [News(NewsKind.ADVICE_CHANGED, dish, at_s, details)]


def meal_news(meal: Meal, planned: Reckoning | None = None) -> News:
    """Return a settled meal as news, with its plan where there was one."""
    hot_drink = meal.label == HOT_DRINK
    kind = NewsKind.HOT_DRINK_FINISHED if hot_drink else NewsKind.MEAL_FINISHED
    return News(
        kind,
        meal.label,
        meal.end_s,
        {
            "appliances": ", ".join(meal.appliances),
            "started_s": round(meal.start_s, 1),
            "energy_wh": round(meal.energy_wh, 1),
            "bank_ah": round(meal.bank_ah, 2),
            "sun_share": None
            if meal.solar_share is None
            else round(meal.solar_share, 3),
            **_against_plan(planned),
        },
    )


def _against_plan(planned: Reckoning | None) -> dict[str, Detail]:
    if planned is None:
        return {}
    return {
        "dish": planned.dish,
        "expected_wh": round(planned.expected_wh, 1),
        "difference_wh": round(planned.difference_wh, 1),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
