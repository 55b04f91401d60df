"""Habits: who cooks what when, within what the inverter carries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
import random
from typing import Final

from .appliances import MAKES
from .boat import SimBoat
from .clock import BoatClock
from .options import SimOptions
from .pieces import Pieces, duration_s
from .task import Task

HOT_WATER: Final = "water_heater"

BREAKFAST: Final = {
    "kettle": 0.7, "coffee_maker": 0.7, "toaster": 0.65, "induction_hob": 0.45,
    "electric_hob": 0.4, "microwave": 0.25, "other": 0.1,
}  # fmt: skip
LUNCH: Final = {
    "induction_hob": 0.6, "electric_hob": 0.5, "microwave": 0.4, "kettle": 0.3,
    "toaster": 0.25, "oven": 0.18, "rice_cooker": 0.25, "pressure_cooker": 0.2, "other": 0.35,
}  # fmt: skip
DINNER: Final = {
    "induction_hob": 0.85, "electric_hob": 0.6, "oven": 0.4, "water_bath": 0.35,
    "rice_cooker": 0.4, "pressure_cooker": 0.3, "microwave": 0.25, "kettle": 0.25, "other": 0.25,
}  # fmt: skip

LEAD_MIN: Final = {
    "water_bath": (-90.0, -40.0), "oven": (-45.0, 0.0), "rice_cooker": (-30.0, 0.0),
    "pressure_cooker": (-30.0, 0.0), "induction_hob": (-20.0, 8.0), "electric_hob": (-20.0, 8.0),
    "microwave": (-6.0, 12.0), "toaster": (-3.0, 8.0), "kettle": (-10.0, 20.0),
    "coffee_maker": (-8.0, 8.0), "other": (-8.0, 6.0),
}  # fmt: skip
"""When each is switched on, minutes from the hour at which the meal is wanted."""


@dataclass(frozen=True, slots=True)
class PlacedRun:
    """One run at its place in time."""

    appliance: str
    start_s: float
    pieces: Pieces

    @property
    def end_s(self) -> float:
        """When its last draw ends."""
        return self.start_s + duration_s(self.pieces)


@dataclass(frozen=True, slots=True)
class UnnamedLoad:
    """Something that the boat file does not name: a plain rectangle."""

    start_s: float
    end_s: float
    power_w: float


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """A run that is wanted at a given time, whatever the habits say."""

    appliance: str
    start_s: float
    task: Task = field(default_factory=Task)


class Planner:
    """Places runs so that an appliance does one thing at a time and the inverter holds."""

    BIN_S: Final = 5.0

    def __init__(
        self,
        boat: SimBoat,
        options: SimOptions,
        seed: int,
        start_s: float,
        end_s: float,
    ) -> None:
        """Begin with an empty span."""
        self._boat = boat
        self._options = options
        self._rng = random.Random(f"habits {seed}")
        self._start_s, self._end_s = start_s, end_s
        self._bins: dict[int, float] = defaultdict(float)
        self._drift = dict.fromkeys((a.name for a in boat.appliances), 0.0)
        self.runs: list[PlacedRun] = []
        self.unnamed: list[UnnamedLoad] = []

    def _peaks(self, start_s: float, pieces: Pieces) -> dict[int, float]:
        peaks: dict[int, float] = {}
        at_s = start_s
        for seconds, watts in pieces:
            first, last = int(at_s / self.BIN_S), int((at_s + seconds) / self.BIN_S)
            for number in range(first, last + 1):
                if watts > peaks.get(number, 0.0):
                    peaks[number] = watts
            at_s += seconds
        return peaks

    def _fits(
        self, start_s: float, pieces: Pieces, limit_w: float
    ) -> dict[int, float] | None:
        peaks = self._peaks(start_s, pieces)
        bins = self._bins
        if any(
            bins.get(number, 0.0) + watts > limit_w for number, watts in peaks.items()
        ):
            return None
        return peaks

    def _take(self, peaks: dict[int, float]) -> None:
        for number, watts in peaks.items():
            self._bins[number] += watts

    def place(self, name: str, start_s: float, task: Task, patience: int = 40) -> bool:
        """Place a run at or somewhat after `start_s`; return whether there was room."""
        appliance = self._boat.appliance(name)
        rng = self._rng
        drift = self._drift[name]
        pieces = appliance.run(rng, task, self._options, drift)
        seconds = duration_s(pieces)
        limit_w = self._boat.inverter.limit_w - 60
        own = [run for run in self.runs if run.appliance == name]
        at_s = start_s
        for _ in range(patience):
            clash = [
                r
                for r in own
                if r.start_s < at_s + seconds + 20 and at_s < r.end_s + 20
            ]
            if clash:
                at_s = max(r.end_s for r in clash) + rng.uniform(20, 200)
                continue
            if at_s < self._start_s + 60 or at_s + seconds > self._end_s - 60:
                return False
            peaks = self._fits(at_s, pieces, limit_w)
            if peaks is not None:
                self._take(peaks)
                self.runs.append(PlacedRun(name, at_s, pieces))
                return True
            at_s += rng.uniform(10, 90)
        return False

    def place_unnamed(self, start_s: float, seconds: float, power_w: float) -> None:
        """Place a load that nobody named, where there is room for it."""
        peaks = self._fits(
            start_s, [(seconds, power_w)], self._boat.inverter.limit_w - 60
        )
        if peaks is None or start_s + seconds > self._end_s:
            return
        self._take(peaks)
        self.unnamed.append(UnnamedLoad(start_s, start_s + seconds, power_w))

    def live_by_habit(
        self, clock: BoatClock, away: Iterable[tuple[float, float]] = ()
    ) -> None:
        """Fill the days; nothing is begun within the spans `away`."""
        spans = tuple(away)
        for midnight_s in clock.midnights(self._start_s, self._end_s):
            for name, start_s, task in sorted(
                self._one_day(midnight_s), key=lambda wish: wish[1]
            ):
                if not any(begin <= start_s < stop for begin, stop in spans):
                    self.place(name, start_s, task)
            for _ in range(
                round(self._rng.expovariate(1.0) * self._options.unnamed_per_day)
            ):
                begin = midnight_s + 3600 * self._rng.uniform(7, 23)
                minutes = min(60.0, max(0.5, self._rng.lognormvariate(1.9, 0.9)))
                if begin >= self._start_s and not any(a <= begin < b for a, b in spans):
                    power = 150 * (1600 / 150) ** self._rng.random()
                    self.place_unnamed(begin, 60 * minutes, power)

    def _one_day(self, midnight_s: float) -> list[tuple[str, float, Task]]:
        rng, habits = self._rng, self._boat.habits
        wishes: list[tuple[str, float, Task]] = []
        for name, drift in self._drift.items():
            self._drift[name] = 0.7 * drift + rng.gauss(0, 0.5 * self._options.drift)
        names = {
            kind: [a.name for a in self._boat.appliances if a.kind == kind]
            for kind in {a.kind for a in self._boat.appliances}
        }
        share = self._options.crew_meals_per_day / 3
        for hour, tastes in (
            (habits.breakfast_h, BREAKFAST),
            (habits.lunch_h, LUNCH),
            (habits.dinner_h, DINNER),
        ):
            if rng.random() > 0.93 * share:
                continue
            at_s = midnight_s + 3600 * (hour + rng.gauss(0, 0.4))
            wishes += self._one_meal(at_s, tastes, names)
        for _ in range(round(rng.gauss(habits.hot_drinks_per_day, 0.6))):
            makers = names.get("kettle", []) + names.get("coffee_maker", [])
            if makers:
                hour = rng.choice((10.3, 11.0, 15.5, 16.2, 21.0, 22.0)) + rng.gauss(
                    0, 0.3
                )
                litres = rng.uniform(0.35, 0.9)
                wishes.append(
                    (rng.choice(makers), midnight_s + 3600 * hour, Task(litres=litres))
                )
        for name in names.get(HOT_WATER, ()):
            if rng.random() < 0.7:
                wishes.append(
                    (
                        name,
                        midnight_s + 3600 * (habits.heater_h + rng.gauss(0, 0.5)),
                        Task(),
                    )
                )
        for kind, make in MAKES.items():
            if make.alone is None:
                continue
            chance, low, high = make.alone
            for name in names.get(kind, ()):
                if rng.random() < chance:
                    wishes.append(
                        (name, midnight_s + 3600 * rng.uniform(low, high), Task())
                    )
        return wishes

    def _one_meal(
        self, wanted_s: float, tastes: dict[str, float], names: dict[str, list[str]]
    ) -> list[tuple[str, float, Task]]:
        rng, habits = self._rng, self._boat.habits
        chosen = [
            kind
            for kind, taste in tastes.items()
            if kind in names and rng.random() < taste * habits.fondness.get(kind, 1.0)
        ]
        if not chosen:
            possible = [kind for kind in tastes if kind in names]
            chosen = [rng.choice(possible)] if possible else []
        wishes: list[tuple[str, float, Task]] = []
        for kind in chosen:
            for name in names[kind]:
                if len(names[kind]) > 1 and rng.random() < 0.4:
                    continue
                at_s = wanted_s + 60 * rng.uniform(*LEAD_MIN[kind])
                wishes.append((name, at_s, Task()))
                again = {"toaster": 0.35, "microwave": 0.25, "kettle": 0.15}.get(
                    kind, 0.0
                )
                if kind in ("induction_hob", "electric_hob"):
                    again = 0.2
                if rng.random() < again:
                    wishes.append((name, at_s + rng.uniform(60, 900), Task()))
        if len(wishes) > 1 and rng.random() < 0.15:  # two things in the same moment
            first = wishes[0]
            wishes[1] = (wishes[1][0], first[1] + rng.uniform(0.5, 10), wishes[1][2])
        return wishes
