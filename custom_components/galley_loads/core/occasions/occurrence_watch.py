"""The one watcher: what is live and what is settled come in, occurrences come out.

Nothing here knows who is told: `event_filter` says what automations hear, and
`message_filter` what the crew reads, both of the same occurrences.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from ..advice import Verdict
from ..boat.boat import Boat
from ..cutting import Outcome
from ..inference.model.activity import Run
from ..live.live_view import LiveView
from ..meals.meal_builder import Meal
from .advice_watch import AdviceWatch
from .circuit_occurrences import CircuitOccurrences
from .facts import Facts
from .load_limits import LoadLimits
from .meal_occurrences import MealOccurrences, PlannedMeal
from .occurrence import Occurrence, OccurrenceKind
from .readings_watch import ReadingsWatch
from .reserve_watch import ReserveWatch
from .run_occurrences import RunOccurrences
from .sun_watch import SunWatch
from .timers import Timer, Timers


class OccurrenceWatch:
    """What has occurred aboard one boat; a pure machine, deterministic in what it takes."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing seen."""
        self._runs = RunOccurrences(boat)
        self._circuits = CircuitOccurrences(boat)
        self._limits = LoadLimits(boat)
        self._reserve = ReserveWatch(boat)
        self._sun = SunWatch()
        self._readings = ReadingsWatch()
        self._meals = MealOccurrences(boat)
        self._advice = AdviceWatch()
        self.timers = Timers(boat)

    # What is settled, decided or asked

    def settle_run(self, run: Run) -> None:
        """Learn how long an appliance usually runs and what it takes."""
        self._runs.settle(run)

    def recall(self, minutes: Mapping[str, Iterable[float]]) -> None:
        """Take how long appliances have run before, by name: habits outlive a restart."""
        for name, lengths in minutes.items():
            self._runs.habits.recall(name, [60.0 * length for length in lengths])

    def settle_meal(self, meal: Meal, planned: PlannedMeal | None = None) -> Occurrence:
        """Take a meal that is over; return it as an occurrence, which goes on to matter."""
        return self._meals.settle(meal, planned or PlannedMeal())

    def hear(self, outcomes: Iterable[Outcome]) -> None:
        """Take what the rules of cutting decided."""
        self._circuits.hear(outcomes)

    def inspected(self, circuit: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        self._circuits.inspected(circuit)

    def plan(self) -> None:
        """Take that the crew has planned anew: the next advice is an answer, no change."""
        self._advice.plan()

    def advise(
        self, at_s: float, dish: str, verdict: Verdict, certainty: float = 1.0
    ) -> list[Occurrence]:
        """Take the advice on the planned dish; return a change of it, if it is one."""
        return self._advice.advise(at_s, dish, verdict, certainty)

    def remaining_wh(self, live: LiveView) -> dict[str, float]:
        """Return what the running appliances are expected to take still, Wh by name."""
        return self._runs.remaining_wh(
            {now.name: now.run_energy_wh for now in live.appliances}
        )

    # Moments

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return all that has occurred and still matters in it.

        Times never go back.
        """
        self.timers.observe(facts.live, facts.at_s)
        return [
            *self._runs.observe(facts),
            *self._limits.observe(facts),
            *self._reserve.observe(facts),
            *self._sun.observe(facts),
            *self._readings.observe(facts),
            *self._circuits.observe(facts),
            *self._meals.observe(facts.at_s),
            *(_timer_over(timer) for timer in self.timers.all if timer.ended_s),
        ]

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "runs": self._runs.snapshot(),
            "circuits": self._circuits.snapshot(),
            "limits": self._limits.snapshot(),
            "reserve": self._reserve.snapshot(),
            "sun": self._sun.snapshot(),
            "readings": self._readings.snapshot(),
            "meals": self._meals.snapshot(),
            "timers": self.timers.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot` of the same boat or an earlier form of it."""
        self._runs.restore(state["runs"])
        self._circuits.restore(state["circuits"])
        self._limits.restore(state["limits"])
        self._reserve.restore(state["reserve"])
        self._sun.restore(state["sun"])
        self._readings.restore(state["readings"])
        self._meals.restore(state["meals"])
        self.timers.restore(state["timers"])


def _timer_over(timer: Timer) -> Occurrence:
    """Return a timer that has run out, or whose appliance went off before."""
    started_s, ended_s = timer.started_s or 0.0, timer.ended_s or 0.0
    return Occurrence(
        OccurrenceKind.TIMER_OVER,
        timer.appliance,
        f"{timer.set_s:.0f}",
        ended_s,
        1.0,
        {"minutes": timer.minutes, "done_minutes": (ended_s - started_s) / 60.0},
        timer.state.value,
    )
