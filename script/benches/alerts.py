"""Are the alerts true, and is standby found? Four boats, thirty days each.

    script/bench alerts [--days 30] [--boats 4] [--seed 9001] [--json OUT.json]

Simulated boats of differing meters live through their days; everything the crew would be
told is compared with the simulation's truth. Reported per kind: how many were said, how
many were untrue, and untrue ones per boat and week. For standby: idle spells of live
circuits that were long enough to be asked about, how many of them nobody asked about, and
how many questions came while something on the circuit was on. Nobody answers the questions
and no relay is moved but by the simulated crew. Beside that goes a boat that cuts by itself
(`auto_cuts.py`): how often did it cut, and how often while something was on?
"""

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import count
import json
from pathlib import Path
import time
from typing import Final

from alert_truth import Truths
from auto_cuts import AutoCuts

from custom_components.galley_loads.core.boat.boat import Boat, Supply
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.cutting import Ask, CutFacts, CuttingRules
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event, MealSettled, RunSettled
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.occasions.facts import facts_of
from custom_components.galley_loads.core.occasions.message_filter import (
    MESSAGE_KINDS,
    MessageFilter,
    Say,
)
from custom_components.galley_loads.core.occasions.night import (
    NightOutlook,
    night_outlook,
)
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.occasions.occurrence_watch import (
    OccurrenceWatch,
)
from custom_components.galley_loads.language.alert_texts import words
from custom_components.galley_loads.language.speech import english
from demo.simulator import SimOptions, Simulation, random_boat, simulate

TICK_S: Final = 10.0
NIGHT_EVERY_S: Final = 300.0
WARM_UP_S: Final = 2 * 86400.0
"""The first days teach the boat's rest and standby; they are not judged."""
PATIENCE_S: Final = 15 * 60.0
"""A question this long after it was due still counts as asked."""
WORTH_W: Final = 5.0
FAR_OFF_SHARE: Final = 0.25
"""A meal told with more or less of its energy than this is told, but far off."""

WORLDS: Final = (
    ("plain, 5 s", {"period_s": 5.0}),
    (
        "10 W steps, fridge on AC, unnamed loads",
        {
            "period_s": 5.0,
            "quantum_w": 10.0,
            "fridge_on_ac": True,
            "unnamed_per_day": 2.0,
        },
    ),
    ("bank's side only", {"period_s": 5.0, "dc_only": True}),
    (
        "10 s, drift, ramps, inrush, dropouts",
        {
            "period_s": 10.0,
            "drift": 0.02,
            "ramps": True,
            "inrush": True,
            "fridge_on_ac": True,
            "dropouts_per_day": 2.0,
        },
    ),
)


@dataclass
class Told:
    """One thing that was said, and whether the truth bears it out."""

    boat: str
    at_s: float
    kind: str
    subject: str
    text: str
    true: bool


@dataclass
class Score:
    """What one boat's days came to."""

    boat: str
    weeks: float
    told: list[Told] = field(default_factory=list)
    due: int = 0
    missed: int = 0
    asked_while_running: int = 0
    cuts: int = 0
    cut_while_running: int = 0
    meals_off: int = 0
    seconds: float = 0.0


class Voyage:
    """One boat's days, lived through."""

    def __init__(self, name: str, simulation: Simulation, boat: Boat) -> None:
        """Prepare the engine and everything that listens to it."""
        self.boat, self.sim = boat, simulation
        self.truths = Truths(simulation, boat)
        self.engine = Engine(boat)
        tokens = count()
        self.rules = CuttingRules(boat, lambda: f"{next(tokens):016x}")
        self.auto_cuts = AutoCuts(boat, self.truths)
        self.occurrences = OccurrenceWatch(boat)
        self.messages = MessageFilter(boat.time_zone)
        span_s = simulation.truth.end_s - simulation.truth.start_s
        self.score = Score(name, (span_s - WARM_UP_S) / (7 * 86400.0))
        self.begin_s = simulation.truth.start_s + WARM_UP_S
        self.heard: set[str] = set()
        self.lost: set[str] = set()
        self.relay: dict[str, bool | None] = {}
        self.relay_names = {c.relay: c.name for c in boat.circuits if c.relay}
        self.load_sensor = _load_sensor(boat)
        (meter,) = (m for m in simulation.meters if m.entity_id == self.load_sensor)
        self.meter_period_s = meter.period_s
        self.silences = [
            (from_s, to_s) for from_s, to_s, _ in simulation.outages(meter)
        ]
        self.asks: dict[str, list[float]] = {}
        self.night: NightOutlook | None = None
        self.night_s = 0.0
        self.meal: Meal | None = None
        self.seen_s, self.seen_w = 0.0, None

    def live_through(self) -> Score:
        """Feed everything; return what came of it."""
        begun = time.perf_counter()
        next_s = self.sim.truth.start_s + TICK_S
        for entity_id, state, at_s in self.sim.rows():
            while at_s >= next_s:
                self._settle(self.engine.advance(next_s))
                self._look(next_s)
                next_s += TICK_S
            self.heard.add(entity_id)
            if state in ("unavailable", "unknown"):
                self.lost.add(entity_id)
            else:
                self.lost.discard(entity_id)
            if entity_id in self.relay_names:
                closed = {"on": True, "off": False}.get(state)
                self.relay[self.relay_names[entity_id]] = closed
            self._settle(self.engine.feed(Reading(entity_id, state, at_s)))
        self._count_missed()
        self.score.seconds = time.perf_counter() - begun
        return self.score

    def _settle(self, events: Sequence[Event]) -> None:
        for event in events:
            if isinstance(event, RunSettled):
                self.occurrences.settle_run(event.run)
            elif isinstance(event, MealSettled):
                self.meal = event.meal
                self.occurrences.settle_meal(event.meal)

    def _is_quiet(self, at_s: float) -> bool:
        """Whether nothing has changed since the last look: then a minute is soon enough."""
        sample = self.engine.last_sample
        load_w = None if sample is None else sample.load_w
        if load_w is None or self.seen_w is None or self.engine.inference.running:
            return False
        return at_s - self.seen_s < 60.0 and abs(load_w - self.seen_w) < 30.0

    def _load_age_s(self, at_s: float) -> float | None:
        """Return how long ago the load's meter reported last; None while it is known lost.

        The rows are changes alone, as a recorder keeps them; the platform also takes note
        of a meter that goes on reporting what it did before.
        """
        if self.load_sensor not in self.heard or self.load_sensor in self.lost:
            return None
        for from_s, to_s in self.silences:
            if from_s <= at_s < to_s:
                return at_s - from_s
        return self.meter_period_s

    def _look(self, at_s: float) -> None:
        if self._is_quiet(at_s):
            return
        live, sample = self.engine.live(), self.engine.last_sample
        if live is None or sample is None:
            return
        self.seen_s, self.seen_w = at_s, sample.load_w
        book = self.engine.standby
        standby_w = {c.name: book.circuit_standby_w(c.name) for c in self.boat.circuits}
        moment = CutFacts(
            at_s,
            sample,
            live,
            self._load_age_s(at_s),
            dict(self.relay),
            {},
            standby_w,
            book.load_floor_w,
            {c.name: book.likely_w(c.name) for c in self.boat.circuits},
        )
        outcomes = self.rules.observe(moment)
        for outcome in outcomes:
            if isinstance(outcome, Ask):
                self.asks.setdefault(outcome.circuit, []).append(at_s)
        self._count_cuts(moment)
        self.occurrences.hear(outcomes)
        cooking = any(now.running for now in live.appliances)
        if not cooking:
            self.night, self.night_s = None, 0.0
        elif at_s - self.night_s >= NIGHT_EVERY_S:
            self.night_s = at_s
            label = None if live.current_meal is None else live.current_meal.label
            remaining_wh = self.occurrences.remaining_wh(live)
            self.night = night_outlook(
                self.engine.outlook().view(), at_s, remaining_wh, label
            )
        idle_since_s = {
            c.name: self.rules.idle_since_s(c.name) for c in self.boat.circuits
        }
        facts = facts_of(self.boat, moment, idle_since_s, self.night)
        for message in self.messages.observe(at_s, self.occurrences.observe(facts)):
            if isinstance(message, Say) and at_s >= self.begin_s:
                self._judge(at_s, message)

    def _judge(self, at_s: float, say: Say) -> None:
        true = self._is_true(at_s, say)
        text = ". ".join(words(say.occurrence, english(self.boat.time_zone)))
        self.score.told.append(
            Told(self.score.boat, at_s, say.kind.value, say.subject, text, true)
        )

    def _is_true(self, at_s: float, say: Say) -> bool:
        truths, subject = self.truths, say.subject
        match say.kind:
            case OccurrenceKind.STANDBY_LEFT_ON:
                names = [a.name for a in self.boat.appliances if a.circuit == subject]
                running = any(truths.running(name, at_s) for name in names)
                self.score.asked_while_running += running
                draws = truths.standby_w(subject) > 0
                return truths.is_live(subject, at_s) and draws and not running
            case OccurrenceKind.FINISHED:
                run = truths.run_at(subject, at_s, 3600.0)
                if run is None or at_s - run.start_s < 300.0:
                    return False
                rated_w = self.boat.appliance(subject).rated_power_w
                if at_s >= run.end_s - 30.0:
                    return True
                # Over is the cooking as well when what follows keeps it warm in pulses: a
                # minute holds a whole one of them, and nothing of the cooking any more.
                return truths.power_w(subject, at_s - 60, at_s) < 0.3 * rated_w
            case OccurrenceKind.AT_TEMPERATURE:
                run = truths.run_at(subject, at_s, 60.0)
                return run is not None and truths.has_rested(run, at_s)
            case OccurrenceKind.LEFT_RUNNING:
                run = truths.run_at(subject, at_s, 120.0)
                lasted = sorted(
                    r.end_s - r.start_s
                    for r in self.sim.truth.runs
                    if r.appliance == subject
                )
                usual_s = lasted[int(0.9 * (len(lasted) - 1))]
                return run is not None and at_s - run.start_s >= usual_s
            case OccurrenceKind.MEAL_FINISHED:
                return self._was_cooked(at_s)
            case OccurrenceKind.RESERVE_AT_RISK:
                lowest = truths.soc_lowest_unaided(at_s, at_s + 17 * 3600.0)
                return lowest < self.boat.bank.reserve_soc + 2.0
            case OccurrenceKind.OVERLOAD_NEAR:
                return self._was_near(at_s, subject)
            case OccurrenceKind.SUN_GONE:
                before_w = truths.solar_w(at_s - 1800.0, at_s - 480.0)
                now_w = truths.solar_w(at_s - 180.0, at_s)
                cooks = any(
                    truths.running(a.name, at_s, 120.0) for a in self.boat.appliances
                )
                return cooks and now_w < 0.6 * before_w
            case OccurrenceKind.READINGS_LOST:
                cooked = any(
                    truths.running(a.name, at_s - back, 60.0)
                    for a in self.boat.appliances
                    for back in (0.0, 200.0, 400.0)
                )
                return cooked and self.load_sensor in self.lost
            case _:
                return False

    def _was_cooked(self, at_s: float) -> bool:
        """Whether the meal that was told was cooked and is over; count one told far off."""
        if self.meal is None:
            return False
        told_wh = self.meal.energy_wh
        true_wh = self.truths.cooked_wh(self.meal.start_s, self.meal.end_s, at_s)
        near = any(abs(told_wh - wh) <= FAR_OFF_SHARE * wh for wh in true_wh)
        self.score.meals_off += bool(true_wh) and not near
        return bool(true_wh)

    def _was_near(self, at_s: float, limit: str) -> bool:
        boat, truths = self.boat, self.truths
        if limit.startswith("breaker "):
            circuit = boat.circuit(limit.removeprefix("breaker "))
            assert circuit is not None
            names = [a.name for a in boat.appliances if a.circuit == circuit.name]
            allowed_w = circuit.breaker_current_a * circuit.voltage_v
            return truths.peak_w(names, at_s) >= 0.8 * allowed_w
        names = [a.name for a in boat.appliances if a.supply is Supply.AC]
        peak_w = truths.peak_w(names, at_s)
        if limit == "inverter":
            assert boat.inverter is not None
            return peak_w >= 0.8 * boat.inverter.continuous_power_w
        limit_a = boat.bank.max_discharge_current_a or 0.0
        return peak_w / boat.conversion / boat.bank.nominal_voltage_v >= 0.7 * limit_a

    def _count_cuts(self, moment: CutFacts) -> None:
        """Count what a boat would have cut that does so by itself."""
        for _, running in self.auto_cuts.observe(moment):
            if moment.at_s >= self.begin_s:
                self.score.cuts += 1
                self.score.cut_while_running += running

    def _count_missed(self) -> None:
        """Count idle spells that were long enough to be asked about and were not."""
        for circuit, from_s, to_s in self.truths.spells():
            kinds = [a.kind for a in self.boat.appliances if a.circuit == circuit]
            rule = self.boat.circuit(circuit)
            assert rule is not None
            wait_s = max(
                60.0 * rule.idle_minutes, *(kind.traits.cool_down_s for kind in kinds)
            )
            due_s = from_s + wait_s + PATIENCE_S
            if from_s < self.begin_s or to_s < due_s:
                continue
            if self.truths.standby_w(circuit) < WORTH_W:
                continue
            self.score.due += 1
            asked = self.asks.get(circuit, [])
            if not any(from_s - 60.0 <= ask_s <= to_s for ask_s in asked):
                self.score.missed += 1


def _load_sensor(boat: Boat) -> str:
    sensors = boat.sensors
    for sensor in (
        sensors.ac_load_power,
        sensors.dc_load_power,
        sensors.battery_power,
        sensors.battery_current,
    ):
        if sensor is not None:
            return sensor.entity_id
    raise ValueError("the boat has no load")


def sail(index: int, days: float, seed: int) -> Score:
    """Live through one boat's days."""
    name, unkind = WORLDS[index % len(WORLDS)]
    options = SimOptions(
        days=days, circuits=True, relays=True, supply_period_s=15.0, **unkind
    )
    drawn = random_boat(seed + index, options)
    simulation = simulate(drawn, seed + index, options)
    description = dict(drawn.description)
    description["circuits"] = [
        {**circuit, "cut": "ask", "idle_minutes": 10}
        for circuit in description["circuits"]
    ]
    return Voyage(name, simulation, parse_boat(description)).live_through()


def show(scores: Sequence[Score]) -> None:
    """Print the figures."""
    for score in scores:
        print(f"\n{score.boat}: {score.weeks:.1f} weeks judged, {score.seconds:.0f} s")
        print(f"  {'':18}{'said':>6}{'untrue':>8}{'a week':>8}")
        said = Counter(told.kind for told in score.told)
        untrue = Counter(told.kind for told in score.told if not told.true)
        for kind in MESSAGE_KINDS:
            if said[kind.value]:
                rate = untrue[kind.value] / score.weeks
                print(
                    f"  {kind.value:18}{said[kind.value]:6}{untrue[kind.value]:8}{rate:8.2f}"
                )
        share = score.missed / score.due if score.due else 0.0
        print(f"  standby: {score.due} spells due, {score.missed} missed ({share:.1%})")
        print(f"  asked while something ran: {score.asked_while_running}")
        print(
            f"  meals told with an energy off by more than a quarter: {score.meals_off}"
        )
        print(f"  by itself: {score.cuts} cuts, {score.cut_while_running} while it ran")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its figures."""
    parser = argparse.ArgumentParser(prog="script/bench alerts", description=__doc__)
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--boats", type=int, default=4)
    parser.add_argument("--first", type=int, default=0, help="begin with this boat")
    parser.add_argument("--seed", type=int, default=9001)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    scores = []
    for index in range(given.first, given.first + given.boats):
        score = sail(index, given.days, given.seed)
        show([score])
        scores.append(score)
    due = sum(score.due for score in scores)
    missed = sum(score.missed for score in scores)
    worst = max(
        (
            sum(1 for t in score.told if t.kind == kind and not t.true) / score.weeks
            for score in scores
            for kind in MESSAGE_KINDS
        ),
        default=0.0,
    )
    print(f"\nall: worst kind on the worst boat {worst:.2f} untrue a week")
    print(f"all: {missed} of {due} standby spells missed")
    cuts = sum(score.cuts for score in scores)
    wrong = sum(score.cut_while_running for score in scores)
    asked = sum(score.asked_while_running for score in scores)
    print(f"all: asked {asked} times while something ran")
    print(f"all: {wrong} of {cuts} cuts while something ran")
    if given.json is not None:
        report = [
            {
                "boat": score.boat,
                "weeks": score.weeks,
                "due": score.due,
                "missed": score.missed,
                "asked_while_running": score.asked_while_running,
                "cuts": score.cuts,
                "cut_while_running": score.cut_while_running,
                "meals_off": score.meals_off,
                "told": [vars(told) for told in score.told],
            }
            for score in scores
        ]
        given.json.write_text(json.dumps(report, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
