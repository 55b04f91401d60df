"""Runs become meals.

A meal is the cooking runs that belong together: less than half an hour (an option) from
the end of one to the start of the next. Hot water from a heater is never part of a meal,
and a kettle alone is a short meal of its own.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time
from math import prod
from typing import Final, TypedDict

from ..boat.boat import Boat
from ..inference.model.activity import Run
from ..kinds.traits import Traits
from ..ledger.account import Flow
from ..stateful import Row, checked, from_row, row

HOT_DRINK: Final = "hot drink"

LARGEST_GAP: Final = 0.1
"""Share of a meal's time for which a meter may be silent and still tell of the meal."""

# From which boat time on a meal carries which label (common practice, no source).
_LABELS: Final = (
    (time(4), "breakfast"),
    (time(10, 30), "lunch"),
    (time(15), "snack"),
    (time(17), "dinner"),
    (time(22, 30), "night snack"),
)

LABELS: Final = (*(label for _, label in _LABELS), HOT_DRINK)
"""Every label that a meal gets by itself; people give others in the meal book."""


@dataclass(frozen=True, slots=True)
class Meal:
    """One meal and what it took.

    `bank_ah` is what its runs took at the bank, `drawn_ah` the part that came out of it,
    `solar_share` the sun's part of the energy (0 to 1). `net_ah` is what a battery monitor
    counted from start to end with everything else aboard, positive out of the bank. Either
    is None where its meters told nothing for more than a tenth of the time.
    """

    start_s: float
    end_s: float
    label: str
    appliances: tuple[str, ...]
    energy_wh: float
    bank_ah: float
    drawn_ah: float
    net_ah: float | None
    solar_share: float | None
    soc_start: float | None
    soc_end: float | None
    runs: tuple[Run, ...]

    @property
    def confidence(self) -> float:
        """Chance that anything was cooked: that one of its runs at least is told rightly."""
        return 1.0 - prod(1.0 - run.confidence for run in self.runs)


@dataclass(frozen=True, slots=True)
class _Mark:
    """What the bank's counters said at the end of a settled span.

    `net_unknown_s` and `sun_unknown_s` count the seconds without the bank's and the sun's.
    """

    at_s: float
    net_ah: float
    known: bool
    soc: float | None
    net_unknown_s: float = 0.0
    sun_unknown_s: float = 0.0


class MealBuilderState(TypedDict):
    """The runs whose meal is not over, and the bank's marks, as rows."""

    pending: list[Row]
    marks: list[Row]


class MealBuilder:
    """Gathers settled runs until their meal is over."""

    def __init__(self, boat: Boat) -> None:
        """Start with no meal in progress."""
        self._boat = boat
        self._gap_s = boat.meal_gap_minutes * 60.0
        self._pending: list[Run] = []
        self._marks: list[_Mark] = []

    def is_cooking(self, appliance: str) -> bool:
        """Whether runs of the appliance belong to meals."""
        return self._traits(appliance).cooking

    def _traits(self, name: str) -> Traits:
        """Return an appliance's traits; one that has left the boat has the usual ones."""
        return next(
            (a.kind.traits for a in self._boat.appliances if a.name == name), Traits()
        )

    def add_flow(self, flow: Flow) -> None:
        """Note what the bank did in one settled span."""
        last = self._marks[-1] if self._marks else _Mark(flow.start_s, 0.0, False, None)
        if not self._marks:
            self._marks.append(last)
        self._marks.append(
            _Mark(
                flow.end_s,
                last.net_ah + (flow.net_ah or 0.0),
                flow.net_ah is not None,
                last.soc if flow.soc is None else flow.soc,
                last.net_unknown_s + flow.net_unknown_s,
                last.sun_unknown_s + flow.sun_unknown_s,
            )
        )

    def add_run(self, run: Run) -> None:
        """Take in a settled run."""
        if self.is_cooking(run.appliance):
            self._pending.append(run)

    def take_finished(self, settled_s: float, open_runs: Iterable[Run]) -> list[Meal]:
        """Return the meals that nothing can join any more."""
        going_on = [run for run in open_runs if self.is_cooking(run.appliance)]
        finished: list[Meal] = []
        if self._pending:
            for group in group_runs([*self._pending, *going_on], self._gap_s):
                end_s = max(run.end_s for run in group)
                if settled_s < end_s + self._gap_s or any(r in going_on for r in group):
                    continue
                finished.append(self.meal(group))
                self._pending = [run for run in self._pending if run not in group]
        self._forget_marks(settled_s, going_on)
        return finished

    def current(self, now_s: float, open_runs: Iterable[Run]) -> Meal | None:
        """Return the meal in progress, with all that is known of it."""
        runs = [*self._pending, *(r for r in open_runs if self.is_cooking(r.appliance))]
        groups = group_runs(runs, self._gap_s)
        if not groups or now_s >= max(r.end_s for r in groups[-1]) + self._gap_s:
            return None
        return self.meal(groups[-1])

    def ended(self, now_s: float, open_runs: Iterable[Run]) -> list[Meal]:
        """Return the meals that are over by `now_s` but not settled yet."""
        runs = [*self._pending, *(r for r in open_runs if self.is_cooking(r.appliance))]
        return [
            self.meal(group)
            for group in group_runs(runs, self._gap_s)
            if now_s >= max(r.end_s for r in group) + self._gap_s
        ]

    def meal(self, runs: Sequence[Run]) -> Meal:
        """Return the meal that these runs make."""
        start_s = min(run.start_s for run in runs)
        end_s = max(run.end_s for run in runs)
        energy_wh = sum(run.energy_wh for run in runs)
        before, after = self._mark(start_s), self._mark(end_s)
        solar_wh = sum(run.solar_wh for run in runs)
        gap_s = LARGEST_GAP * (end_s - start_s)
        net_ah: float | None = None
        knows_sun = bool(self._boat.sensors.solar_power) or self._boat.solar is None
        if before is not None and after is not None:
            if after.known and after.net_unknown_s - before.net_unknown_s <= gap_s:
                net_ah = after.net_ah - before.net_ah
            if self._boat.sensors.solar_power:
                knows_sun = after.sun_unknown_s - before.sun_unknown_s <= gap_s
        return Meal(
            start_s,
            end_s,
            self._label(start_s, runs),
            tuple(sorted({run.appliance for run in runs})),
            energy_wh,
            sum(run.bank_ah for run in runs),
            sum(run.drawn_ah for run in runs),
            net_ah,
            min(1.0, solar_wh / energy_wh) if knows_sun and energy_wh > 0 else None,
            None if before is None else before.soc,
            None if after is None else after.soc,
            tuple(sorted(runs, key=lambda r: (r.start_s, r.appliance, r.end_s))),
        )

    def _label(self, start_s: float, runs: Iterable[Run]) -> str:
        if all(self._traits(run.appliance).hot_drink for run in runs):
            return HOT_DRINK
        at = datetime.fromtimestamp(start_s, UTC).astimezone(self._boat.time_zone)
        return label_at(at.time())

    def _mark(self, at_s: float) -> _Mark | None:
        """Return what the counters said at a moment, between spans in proportion."""
        if not self._marks:
            return None
        after = bisect_right(self._marks, at_s, key=lambda mark: mark.at_s)
        if after == 0:
            return self._marks[0]
        left = self._marks[after - 1]
        if after == len(self._marks) or left.at_s == at_s:
            return left
        right = self._marks[after]
        share = (at_s - left.at_s) / (right.at_s - left.at_s)

        def between(counted: Callable[[_Mark], float]) -> float:
            return counted(left) + share * (counted(right) - counted(left))

        return _Mark(
            at_s,
            between(lambda mark: mark.net_ah),
            right.known,
            left.soc,
            between(lambda mark: mark.net_unknown_s),
            between(lambda mark: mark.sun_unknown_s),
        )

    def _forget_marks(self, settled_s: float, going_on: Iterable[Run]) -> None:
        """Keep the marks that a meal still to come may need."""
        needed_s = min(
            (run.start_s for run in (*self._pending, *going_on)), default=settled_s
        )
        keep = bisect_right(self._marks, needed_s, key=lambda mark: mark.at_s) - 1
        if keep > 0:
            del self._marks[:keep]

    def copy(self) -> MealBuilder:
        """Return a book that can be written in without touching this one."""
        twin = MealBuilder(self._boat)
        twin._pending = list(self._pending)
        twin._marks = list(self._marks)
        return twin

    def snapshot(self) -> MealBuilderState:
        """Return the state as plain data."""
        return {
            "pending": [row(run) for run in self._pending],
            "marks": [row(mark) for mark in self._marks],
        }

    def restore(self, state: MealBuilderState) -> None:
        """Take a state that `snapshot` gave."""
        self._pending = [from_row(Run, one) for one in state["pending"]]
        self._marks = [from_row(_Mark, one) for one in state["marks"]]


def label_at(boat_time: time) -> str:
    """Return the label of a meal that starts at this boat time."""
    label = _LABELS[-1][1]
    for start, name in _LABELS:
        if boat_time < start:
            break
        label = name
    return label


def group_runs(runs: Iterable[Run], gap_s: float) -> list[list[Run]]:
    """Return the runs in groups with less than `gap_s` from an end to the next start."""
    groups: list[list[Run]] = []
    end_s = float("-inf")
    for run in sorted(runs, key=lambda r: (r.start_s, r.appliance, r.end_s)):
        if groups and run.start_s - end_s < gap_s:
            groups[-1].append(run)
            end_s = max(end_s, run.end_s)
        else:
            groups.append([run])
            end_s = run.end_s
    return groups


class MealMapping(TypedDict):
    """A meal as it is stored."""

    start_s: float
    end_s: float
    label: str
    appliances: tuple[str, ...]
    energy_wh: float
    bank_ah: float
    drawn_ah: float
    net_ah: float | None
    solar_share: float | None
    soc_start: float | None
    soc_end: float | None
    runs: list[Row]


def meal_to_mapping(meal: Meal) -> MealMapping:
    """Return a meal as plain data."""
    return {
        "start_s": meal.start_s,
        "end_s": meal.end_s,
        "label": meal.label,
        "appliances": meal.appliances,
        "energy_wh": meal.energy_wh,
        "bank_ah": meal.bank_ah,
        "drawn_ah": meal.drawn_ah,
        "net_ah": meal.net_ah,
        "solar_share": meal.solar_share,
        "soc_start": meal.soc_start,
        "soc_end": meal.soc_end,
        "runs": [row(run) for run in meal.runs],
    }


def meal_from_mapping(mapping: object) -> Meal:
    """Return the meal that `meal_to_mapping` wrote.

    Raises:
        StateError: it is none.
    """
    fields = checked(MealMapping, mapping)
    runs = tuple(from_row(Run, run) for run in fields["runs"])
    return Meal(
        fields["start_s"],
        fields["end_s"],
        fields["label"],
        fields["appliances"],
        fields["energy_wh"],
        fields["bank_ah"],
        fields["drawn_ah"],
        fields["net_ah"],
        fields["solar_share"],
        fields["soc_start"],
        fields["soc_end"],
        runs,
    )
