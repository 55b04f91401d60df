"""Are the events true? What automations hear of appliances, against what truly ran.

    script/bench events [--days 12] [--boats 4] [--seed 9001]

Simulated boats of differing meters live through their days, looked at every ten seconds as
Home Assistant does. A `started` is true if that appliance truly ran at that time or up to
a minute before; a `finished` if a true run of it ended since its start was reported. Runs shorter than the time for which
a run has to be seen are not counted as missed. The first two days teach the boat and are not
judged.
"""

import argparse
from collections import Counter
from collections.abc import Sequence
from statistics import median
from typing import Final

from alerts import TICK_S, WARM_UP_S, WORLDS

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.occasions.event_filter import (
    STARTED_CONFIRMED_S,
    AutomationEvent,
    EventFilter,
)
from custom_components.galley_loads.core.occasions.facts import Facts
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.occasions.occurrence_watch import (
    OccurrenceWatch,
)
from demo.simulator import SimOptions, Simulation, random_boat, simulate

EARLY_S: Final = 60.0
QUIET_LOOK_S: Final = 60.0


def hear(simulation: Simulation) -> list[AutomationEvent]:
    """Return everything that is reported over a simulation."""
    boat = parse_boat(dict(simulation.boat.description))
    engine, watch, chosen = Engine(boat), OccurrenceWatch(boat), EventFilter()
    heard: list[AutomationEvent] = []
    next_s, looked_s, looked_w = simulation.truth.start_s + TICK_S, 0.0, 0.0

    def look() -> None:
        nonlocal looked_s, looked_w
        sample = engine.last_sample
        load_w = 0.0 if sample is None or sample.load_w is None else sample.load_w
        # Nothing runs and nothing changed: a minute is soon enough.
        still = not engine.inference.running and abs(load_w - looked_w) < 30.0
        if still and next_s - looked_s < QUIET_LOOK_S:
            return
        looked_s, looked_w = next_s, load_w
        if (live := engine.live()) is not None:
            occurrences = watch.observe(Facts(live.at_s, live))
            heard.extend(chosen.observe(live.at_s, occurrences))

    def settle(events: Sequence[Event]) -> None:
        for event in events:
            if isinstance(event, RunSettled):
                watch.settle_run(event.run)

    for entity_id, state, at_s in simulation.rows():
        while at_s >= next_s:
            settle(engine.advance(next_s))
            look()
            next_s += TICK_S
        settle(engine.feed(Reading(entity_id, state, at_s)))
    return heard


class Score:
    """True, untrue and missed, over boats."""

    def __init__(self) -> None:
        """Start with nothing counted."""
        self.said: Counter[str] = Counter()
        self.untrue: Counter[str] = Counter()
        self.missed: Counter[str] = Counter()
        self.runs = 0
        self.start_delays_s: list[float] = []
        self.end_delays_s: list[float] = []

    def judge(self, simulation: Simulation, heard: list[AutomationEvent]) -> None:
        """Hold what was reported against the truth."""
        begin_s = simulation.truth.start_s + WARM_UP_S
        runs = [run for run in simulation.truth.runs if run.start_s >= begin_s]
        begun: dict[str, float] = {}
        for one in heard:
            if one.at_s < begin_s:
                continue
            if one.kind is OccurrenceKind.STARTED:
                begun[one.subject] = one.at_s
                true = [
                    run
                    for run in runs
                    if run.appliance == one.subject
                    and run.start_s <= one.at_s <= run.end_s + EARLY_S
                ]
                self._count("started", bool(true))
                if true:
                    self.start_delays_s.append(one.at_s - true[-1].start_s)
            elif one.kind is OccurrenceKind.FINISHED:
                since_s = begun.get(one.subject, 0.0)
                true = [
                    run
                    for run in runs
                    if run.appliance == one.subject
                    and since_s <= run.end_s + EARLY_S
                    and run.end_s <= one.at_s
                ]
                self._count("finished", bool(true))
                if true:
                    self.end_delays_s.append(one.at_s - true[-1].end_s)
        self._count_missed(runs, heard)

    def _count(self, what: str, is_true: bool) -> None:
        self.said[what] += 1
        self.untrue[what] += not is_true

    def _count_missed(
        self, runs: Sequence[object], heard: list[AutomationEvent]
    ) -> None:
        for run in runs:
            if run.end_s - run.start_s < STARTED_CONFIRMED_S + TICK_S:
                continue
            self.runs += 1
            reported = any(
                one.kind is OccurrenceKind.STARTED
                and one.subject == run.appliance
                and run.start_s - EARLY_S <= one.at_s <= run.end_s + EARLY_S
                for one in heard
            )
            self.missed["started"] += not reported

    def show(self, name: str) -> None:
        """Print the figures."""
        print(f"\n{name}: {self.runs} runs")
        for what in ("started", "finished"):
            said = max(self.said[what], 1)
            print(
                f"  {what:10} reported {self.said[what]:5}, untrue {self.untrue[what]:4}"
                f" ({100 * self.untrue[what] / said:.1f} %)"
            )
        print(
            f"  runs whose start nobody reported: {self.missed['started']}"
            f" ({100 * self.missed['started'] / max(self.runs, 1):.1f} %)"
        )
        for what, delays in (
            ("start", self.start_delays_s),
            ("end", self.end_delays_s),
        ):
            if delays:
                late = sorted(delays)[int(0.9 * (len(delays) - 1))]
                print(
                    f"  {what} reported after {median(delays):.0f} s; nine of ten {late:.0f} s"
                )


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench and print its figures."""
    parser = argparse.ArgumentParser(prog="script/bench events", description=__doc__)
    parser.add_argument("--days", type=float, default=12.0)
    parser.add_argument("--boats", type=int, default=4)
    parser.add_argument("--seed", type=int, default=9001)
    given = parser.parse_args(argv)
    total = Score()
    for index in range(given.boats):
        name, world = WORLDS[index % len(WORLDS)]
        options = SimOptions(days=given.days, **world)
        simulation = simulate(
            random_boat(given.seed + index, options), given.seed + index, options
        )
        heard, score = hear(simulation), Score()
        for one in (score, total):
            one.judge(simulation, heard)
        score.show(name)
    total.show("all")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
