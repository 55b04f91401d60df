"""All rules together: what stands at a moment, and the messages that come of it."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any, Final

from ..boat.boat import Boat
from ..boat.quiet_hours import QuietHours
from ..cutting import Outcome
from ..inference.model.activity import Run
from ..live.live_view import LiveView
from ..meals.meal_builder import HOT_DRINK, Meal
from . import texts
from .circuit_alerts import Circuits
from .facts import Facts
from .kitchen import Kitchen
from .message_desk import AlertDesk
from .occasion import AlertKind, Message, Occasion
from .supply import Limits, Meters, Night, Sun
from .timers import Timer, Timers, TimerState

_MEAL_NEWS_S: Final = 10 * 3600.0
"""How long a finished meal is worth telling: an evening's meal may wait for the morning."""
_MEAL_WORTH_WH: Final = 30.0
_MEAL_SURE: Final = 0.6
"""A meal of which nobody knows whether anything was cooked is in the book, but no news."""


class Alerts:
    """The alerts of one boat: facts and events in, messages out."""

    def __init__(
        self,
        boat: Boat,
        kinds: Collection[AlertKind] = frozenset(AlertKind),
        quiet_hours: QuietHours | None = None,
    ) -> None:
        """Say alerts of the chosen kinds."""
        self._boat = boat
        self._desk = AlertDesk(boat.time_zone, kinds, quiet_hours)
        self._kitchen = Kitchen(boat)
        self._limits = Limits(boat)
        self._night = Night(boat)
        self._sun = Sun()
        self._meters = Meters()
        self._circuits = Circuits(boat)
        self._meal: dict[str, Any] | None = None
        self.timers = Timers(boat)

    # Events

    def settle_run(self, run: Run) -> None:
        """Learn how long an appliance usually runs."""
        self._kitchen.settle(run)

    def settle_meal(self, meal: Meal, expected_ah: float | None = None) -> None:
        """Take a meal that is over; `expected_ah` is what it had been expected to take."""
        if meal.label == HOT_DRINK or meal.energy_wh < _MEAL_WORTH_WH:
            return
        if meal.confidence < _MEAL_SURE:
            return
        title, message = texts.meal_finished(
            meal.label,
            meal.bank_ah,
            meal.bank_ah / self._boat.bank.capacity_ah,
            meal.solar_share,
            expected_ah,
        )
        self._meal = {
            "key": f"{meal.start_s:.0f}",
            "end_s": meal.end_s,
            "title": title,
            "message": message,
        }

    def hear(self, outcomes: Iterable[Outcome]) -> None:
        """Take what the rules of cutting said."""
        self._circuits.hear(outcomes)

    def inspected(self, circuit: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        self._circuits.inspected(circuit)

    def remaining_wh(self, live: LiveView) -> dict[str, float]:
        """Return what the running appliances are expected to take still, Wh by name.

        A run is expected to take what its appliance's runs usually do, before the first
        one half an hour's by its kind; and always a fifth of that more.
        """
        remaining: dict[str, float] = {}
        for name, run in self._kitchen.runs.items():
            if run.gone_s is not None:
                continue
            typical_wh = self._kitchen.typical_wh(name)
            if typical_wh is None:
                appliance = self._boat.appliance(name)
                typical_wh = appliance.kind.typical_energy_wh(
                    appliance.rated_power_w, 30
                )
            left_wh = typical_wh - live.appliance(name).run_energy_wh
            remaining[name] = max(left_wh, 0.2 * typical_wh)
        return remaining

    # Moments

    def observe(self, facts: Facts) -> list[Message]:
        """Take a moment; return the messages to send."""
        self.timers.observe(facts.live, facts.at_s)
        standing = [
            *self._kitchen.observe(facts),
            *self._limits.observe(facts),
            *self._night.observe(facts),
            *self._sun.observe(facts),
            *self._meters.observe(facts),
            *self._circuits.observe(facts),
            *self._meal_finished(facts.at_s),
            *(self._timer_over(timer) for timer in self.timers.all if timer.ended_s),
        ]
        return self._desk.observe(facts.at_s, standing)

    def _meal_finished(self, at_s: float) -> list[Occasion]:
        meal = self._meal
        if meal is None:
            return []
        if at_s - meal["end_s"] > _MEAL_NEWS_S:
            self._meal = None
            return []
        return [
            Occasion(
                AlertKind.MEAL_FINISHED, "", meal["key"], meal["title"], meal["message"]
            )
        ]

    def _timer_over(self, timer: Timer) -> Occasion:
        if timer.state is TimerState.OVER:
            text = texts.timer_over(timer.appliance, timer.minutes)
        else:
            started_s, ended_s = timer.started_s or 0.0, timer.ended_s or 0.0
            done_min = (ended_s - started_s) / 60.0
            text = texts.timer_stopped(timer.appliance, done_min, timer.minutes)
        return Occasion(
            AlertKind.TIMER_OVER, timer.appliance, f"{timer.set_s:.0f}", *text
        )

    @property
    def shown(self) -> tuple[str, ...]:
        """The tags of messages that were sent and not taken back."""
        return self._desk.shown

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "desk": self._desk.snapshot(),
            "kitchen": self._kitchen.snapshot(),
            "limits": self._limits.snapshot(),
            "night": self._night.snapshot(),
            "sun": self._sun.snapshot(),
            "meters": self._meters.snapshot(),
            "circuits": self._circuits.snapshot(),
            "meal": self._meal,
            "timers": self.timers.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot` of the same boat or an earlier form of it."""
        self._desk.restore(state["desk"])
        self._kitchen.restore(state["kitchen"])
        self._limits.restore(state["limits"])
        self._night.restore(state["night"])
        self._sun.restore(state["sun"])
        self._meters.restore(state["meters"])
        self._circuits.restore(state["circuits"])
        self._meal = state["meal"]
        self.timers.restore(state["timers"])
