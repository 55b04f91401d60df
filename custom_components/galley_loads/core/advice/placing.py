"""Placing several dishes in the hours ahead.

One by one, the largest first; then each is taken out and placed again while the others
stand, until nothing moves. A place is allowed where inverter, breakers and bank carry what
runs together and no appliance is needed twice.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ..meals.dish_cost import DishCost
from ..outlook.outlook_view import OutlookView
from .bank_path import BankModel, BankPath, follow
from .grid import STEP_H
from .limits import Draw, Overload, background_ac_w, overloads
from .scenario import Scenario
from .starts import DishPower, Start, base_paths, weigh_start
from .verdict import LEAST_CHANCE

_PASSES: Final = 3
_AH_PER_CHANCE: Final = 1000.0
"""A start that risks the reserve loses against any that does not."""


@dataclass(slots=True)
class Task:
    """One dish to be placed between two steps; `place` is its step, None while it has none."""

    name: str
    cost: DishCost
    draw: Draw
    power: DishPower
    first: int
    last: int
    place: int | None = None
    found: Start | None = None

    @property
    def length(self) -> int:
        """How many steps it takes."""
        return len(self.power.steps_w(0.0))


@dataclass(frozen=True, slots=True)
class Together:
    """What all placed dishes come to: amp-hours drawn, and each member's lowest charge."""

    drawn_ah: float
    lows: tuple[float, ...]


class Placer:
    """Finds places for tasks; the tasks carry the result."""

    def __init__(
        self,
        view: OutlookView,
        model: BankModel,
        scenario: Scenario,
        tasks: Sequence[Task],
    ) -> None:
        """Start with what is placed already left where it is."""
        self._view = view
        self._model = model
        self._scenario = scenario
        self._tasks = list(tasks)
        self._other_ac_w = background_ac_w(view)
        self._overloads: dict[frozenset[int], tuple[Overload, ...]] = {}

    def place_all(self) -> None:
        """Place every task that some place carries."""
        order = sorted(self._tasks, key=lambda t: -t.cost.energy_wh)
        for _ in range(_PASSES):
            moved = False
            for task in order:
                before = task.place
                self._place(task)
                moved = moved or task.place != before
            if not moved:
                return

    def alone(self, task: Task) -> tuple[Overload, ...]:
        """Return the limits that a task exceeds by itself."""
        return self._together([task])

    def _together(self, tasks: Iterable[Task]) -> tuple[Overload, ...]:
        listed = list(tasks)
        key = frozenset(id(task) for task in listed)
        if key not in self._overloads:
            self._overloads[key] = overloads(
                self._view, [task.draw for task in listed], self._other_ac_w
            )
        return self._overloads[key]

    def _place(self, task: Task) -> None:
        task.place, task.found = None, None
        if self.alone(task):
            return
        others = [t for t in self._tasks if t is not task and t.place is not None]
        scenario = self._with(others)
        paths = base_paths(self._model, scenario)
        powers = [task.power.steps_w(factor) for factor in scenario.dish_factor]
        best: tuple[float, int] | None = None
        for step in range(task.first, task.last + 1):
            if not self._carries(task, step, others):
                continue
            start = self._weigh(task, scenario, paths, powers, step)
            short = max(LEAST_CHANCE - start.chance_above_reserve, 0.0)
            worth = (start.drawn_ah + _AH_PER_CHANCE * short, step)
            if best is None or worth < best:
                best, task.found = worth, start
        task.place = None if best is None else best[1]

    def _weigh(
        self,
        task: Task,
        scenario: Scenario,
        paths: Sequence[BankPath],
        powers: Sequence[Sequence[float]],
        step: int,
    ) -> Start:
        return weigh_start(
            self._view, self._model, scenario, paths, powers, task.power, step
        )

    def _carries(self, task: Task, step: int, others: Sequence[Task]) -> bool:
        """Return whether everything that would run at once is carried."""
        end = step + task.length
        beside = [
            other
            for other in others
            if other.place is not None
            and other.place < end
            and step < other.place + other.length
        ]
        own = set(task.draw.appliances)
        if any(own & set(other.draw.appliances) for other in beside):
            return False
        for moment in range(step, end):
            running = [
                other
                for other in beside
                if other.place is not None
                and other.place <= moment < other.place + other.length
            ]
            if running and self._together([task, *running]):
                return False
        return True

    def _with(self, tasks: Iterable[Task]) -> Scenario:
        """Return the scenario with placed tasks within the demand."""
        demand_w = [list(row) for row in self._scenario.demand_w]
        for task in tasks:
            if task.place is None:
                continue
            for row, factor in zip(demand_w, self._scenario.dish_factor, strict=True):
                for i, power_w in enumerate(task.power.steps_w(factor), task.place):
                    row[i] += power_w
        return self._scenario.with_demand(demand_w)

    def together(self) -> Together:
        """Return what the bank does with all placed tasks."""
        everything = self._with(self._tasks)
        drawn_wh = 0.0
        lows: list[float] = []
        for plain_w, full_w, supply_w, soc in zip(
            self._scenario.demand_w,
            everything.demand_w,
            everything.supply_w,
            everything.soc,
            strict=True,
        ):
            path = follow(self._model, soc, supply_w, full_w)
            lows.append(min(path.soc))
            for plain, full, supply in zip(plain_w, full_w, supply_w, strict=True):
                if full > plain and full > supply:
                    drawn_wh += (full - plain) * (full - supply) / full * STEP_H
        powers_w = [t.power.dc_w for t in self._tasks if t.place is not None]
        mean_w = sum(powers_w) / len(powers_w) if powers_w else 0.0
        voltage_v = self._view.cooking_voltage_v(mean_w)
        return Together(drawn_wh / len(lows) / voltage_v, tuple(sorted(lows)))
