"""One simulation, from a seed to the rows of a history and the truth behind them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
import random

from .accounts import truth_of
from .boat import SimBoat
from .clock import BoatClock
from .day import PlannedRun, Planner
from .loads import carry_loads
from .meters import Meter, Row, disturbed, draw_outages, merge
from .options import SimOptions
from .relays import live_spans
from .sensing import meters_of, switches_of
from .steps import Steps
from .supply import Supply, simulate_supply
from .timeline import GRID_S
from .truth import Truth
from .weather import clearness


@dataclass(frozen=True, slots=True)
class Simulation:
    """A simulated span: its truth, and what the sensors said.

    `power` is each appliance's true power over time, standby included, on its own side
    of the inverter.
    """

    boat: SimBoat
    options: SimOptions
    seed: int
    truth: Truth
    power: dict[str, Steps]
    supply: Supply
    meters: tuple[Meter, ...]
    switches: tuple[Row, ...]

    def rows(self) -> Iterator[Row]:
        """Yield `(entity_id, state, at_s)` of every change, in order of time.

        With late or doubled readings it is the order of arrival instead.
        """
        options, truth = self.options, self.truth
        streams: list[Iterator[Row]] = [iter(self.switches)]
        streams.extend(
            meter.rows(
                f"meter {self.seed}",
                truth.start_s,
                truth.end_s,
                self.outages(meter),
            )
            for meter in self.meters
        )
        return disturbed(
            merge(streams), f"{self.seed}", options.late_share, options.doubled_share
        )

    def outages(self, meter: Meter) -> list[tuple[float, float, bool]]:
        """Return when a meter was not heard: from, to, and whether the platform knew."""
        return draw_outages(
            random.Random(f"outages {self.seed} {meter.entity_id}"),
            self.options.dropouts_per_day,
            self.options.dropout_s,
            self.truth.start_s,
            self.truth.end_s,
        )


def simulate(
    boat: SimBoat,
    seed: int,
    options: SimOptions,
    planned: Sequence[PlannedRun] = (),
    away: Sequence[tuple[float, float]] = (),
    weather: str | None = None,
) -> Simulation:
    """Simulate a boat; the same arguments give the same result.

    `planned` runs come before everything that habit would do, and habit begins nothing
    within the spans `away`. `weather` fixes the first half-day's sky.
    """
    start_s = datetime.fromisoformat(options.start).timestamp()
    cells = round(options.days * 86400 / GRID_S)
    end_s = start_s + cells * GRID_S
    clock = BoatClock(options.time_zone)
    planner = Planner(boat, options, seed, start_s, end_s)
    for wish in planned:
        planner.place(wish.appliance, wish.start_s, wish.task)
    planner.live_by_habit(clock, away)
    live = live_spans(boat, options, seed, clock, planner.runs, start_s, end_s)
    loads = carry_loads(boat, options, seed, clock, planner, live, start_s, end_s)
    supply = simulate_supply(
        boat,
        random.Random(f"supply {seed}"),
        clock,
        clearness(random.Random(f"weather {seed}"), cells, weather),
        loads.dc_total,
        start_s,
    )
    return Simulation(
        boat=boat,
        options=options,
        seed=seed,
        truth=truth_of(boat, options, loads, supply, start_s, end_s),
        power=loads.power,
        supply=supply,
        meters=tuple(meters_of(boat, options, seed, loads, supply)),
        switches=switches_of(boat, live, start_s, end_s),
    )
