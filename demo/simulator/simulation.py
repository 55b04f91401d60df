"""One simulation, from a seed to the rows of a history and the truth behind them."""

from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
import random

from .background import ac_background, dc_background
from .boat import SimBoat
from .clock import BoatClock
from .day import PlacedRun, PlannedRun, Planner
from .meters import Meter, Row, disturbed, draw_outages, merge
from .options import SimOptions
from .relays import live_spans
from .steps import Steps, combined, from_events
from .supply import Supply, simulate_supply
from .timeline import GRID_S, VOLTAGE_DROP, Channel, run_channel, sweep
from .truth import TrueRun, Truth, meals_of
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
        for meter in self.meters:
            rng = random.Random(f"outages {self.seed} {meter.entity_id}")
            outages = draw_outages(
                rng,
                options.dropouts_per_day,
                options.dropout_s,
                truth.start_s,
                truth.end_s,
            )
            streams.append(
                meter.rows(f"meter {self.seed}", truth.start_s, truth.end_s, outages)
            )
        return disturbed(
            merge(streams), f"{self.seed}", options.late_share, options.doubled_share
        )


@dataclass(frozen=True, slots=True)
class _Loads:
    """What the sweep made of runs, standby and background on both sides of the inverter."""

    ac: Steps
    dc_loads: Steps
    dc_total: Steps
    runs: tuple[TrueRun, ...]
    grid: dict[str, array[float]]
    standby_wh: dict[str, float]
    unnamed_wh: float
    ac_background_wh: float
    dc_background_wh: float
    meters: dict[str, Steps]


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
    loads = _loads(boat, options, seed, clock, planner, start_s, end_s)
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
        truth=_truth(boat, options, loads, supply, start_s, end_s),
        power=loads.meters,
        supply=supply,
        meters=tuple(_meters(boat, options, seed, loads, supply)),
        switches=_switches(boat, options, seed, clock, planner.runs, start_s, end_s),
    )


def _loads(
    boat: SimBoat,
    options: SimOptions,
    seed: int,
    clock: BoatClock,
    planner: Planner,
    start_s: float,
    end_s: float,
) -> _Loads:
    rng = random.Random(f"background {seed}")
    dc_rest = dc_background(rng, boat.background, clock, start_s, end_s)
    ac_rest = ac_background(rng, boat.background, clock, start_s, end_s)
    cells = round((end_s - start_s) / GRID_S)
    grid = {a.name: array("f", bytes(4 * cells)) for a in boat.appliances}
    meters: dict[str, list[tuple[float, float]]] = {
        appliance.name: [] for appliance in boat.appliances
    }
    live = live_spans(boat, options, seed, clock, planner.runs, start_s, end_s)
    channels: dict[str, list[Channel]] = {"ac": [], "dc": []}
    run_channels: list[tuple[PlacedRun, Channel]] = []
    standby: dict[str, Channel] = {}
    for placed in sorted(planner.runs, key=lambda run: run.start_s):
        appliance = boat.appliance(placed.appliance)
        channel = run_channel(placed.start_s, placed.pieces, appliance.resistive)
        channel.grid = grid[appliance.name]
        channel.meter = meters[appliance.name]
        channels[appliance.supply].append(channel)
        run_channels.append((placed, channel))
    for appliance in boat.appliances:
        busy = sorted(
            (r.start_s, r.end_s) for r in planner.runs if r.appliance == appliance.name
        )
        changes: list[tuple[float, float]] = []
        for from_s, to_s in live.get(appliance.circuit or "", ((start_s, end_s),)):
            at_s = from_s
            for begin_s, stop_s in busy:
                if from_s <= begin_s < to_s:
                    changes += [(at_s, appliance.standby_w), (begin_s, 0.0)]
                    at_s = stop_s
            changes += [(at_s, appliance.standby_w), (to_s, 0.0)]
        channel = Channel(changes if appliance.standby_w else [])
        channel.meter = meters[appliance.name]
        standby[appliance.name] = channel
        channels[appliance.supply].append(channel)
    unnamed = [
        Channel([(load.start_s, load.power_w), (load.end_s, 0.0)], resistive=True)
        for load in planner.unnamed
    ]
    rest = Channel(list(zip(ac_rest.at_s, ac_rest.power_w, strict=True)))
    drop = VOLTAGE_DROP if options.voltage_sag else 0.0
    limit_w = boat.inverter.limit_w
    ac = sweep([*channels["ac"], *unnamed, rest], start_s, end_s, limit_w, drop)
    dc_galley = sweep(channels["dc"], start_s, end_s, limit_w, 0.0)
    dc_loads = combined(dc_rest, dc_galley, lambda a, b: a + b)
    dc_total = combined(ac, dc_loads, lambda a, b: boat.inverter.dc_w(a) + b)
    share = {
        a.name: 1.0 if a.supply == "ac" else boat.conversion for a in boat.appliances
    }
    return _Loads(
        ac=ac,
        dc_loads=dc_loads,
        dc_total=dc_total,
        runs=tuple(
            TrueRun(
                placed.appliance,
                placed.start_s,
                placed.end_s,
                channel.energy_j / 3600 * share[placed.appliance],
            )
            for placed, channel in run_channels
        ),
        grid=grid,
        standby_wh={
            name: channel.energy_j / 3600 * share[name]
            for name, channel in standby.items()
        },
        unnamed_wh=sum(channel.energy_j for channel in unnamed) / 3600,
        ac_background_wh=rest.energy_j / 3600,
        dc_background_wh=dc_rest.integral_j(end_s) / 3600,
        meters={
            name: from_events(start_s, changes) for name, changes in meters.items()
        },
    )


def _truth(
    boat: SimBoat,
    options: SimOptions,
    loads: _Loads,
    supply: Supply,
    start_s: float,
    end_s: float,
) -> Truth:
    kinds = {a.name: a.kind for a in boat.appliances}
    appliance_wh = dict.fromkeys(kinds, 0.0)
    for run in loads.runs:
        appliance_wh[run.appliance] += run.energy_wh
    conversion = boat.conversion
    background_wh = loads.ac_background_wh
    if options.dc_only:
        background_wh += loads.dc_background_wh * conversion
        load_wh = loads.dc_total.integral_j(end_s) / 3600 * conversion
        inverter_wh = (
            loads.dc_total.integral_j(end_s) - loads.dc_loads.integral_j(end_s)
        ) / 3600
        idle_wh = boat.inverter.idle_w * (end_s - start_s) / 3600
        background_wh += idle_wh * conversion
        conversion_wh = (inverter_wh - idle_wh) * conversion - loads.ac.integral_j(
            end_s
        ) / 3600
    else:
        load_wh = loads.ac.integral_j(end_s) / 3600
        conversion_wh = 0.0
        if any(a.supply == "dc" for a in boat.appliances):
            background_wh += loads.dc_background_wh * conversion
            load_wh += loads.dc_loads.integral_j(end_s) / 3600 * conversion
    return Truth(
        start_s=start_s,
        end_s=end_s,
        runs=loads.runs,
        meals=meals_of(loads.runs, kinds),
        grid=loads.grid,
        appliance_wh=appliance_wh,
        standby_wh=loads.standby_wh,
        standby_w={a.name: a.standby_w for a in boat.appliances},
        background_wh=background_wh,
        unnamed_wh=loads.unnamed_wh,
        conversion_wh=conversion_wh,
        load_wh=load_wh,
        soc=array("f", supply.soc[::6]),
        solar_w=array("f", supply.solar_w[::6]),
    )


def _meters(
    boat: SimBoat, options: SimOptions, seed: int, loads: _Loads, supply: Supply
) -> Iterator[Meter]:
    rng = random.Random(f"meters {seed}")
    sensors = boat.description["sensors"]
    positive = sensors.get("battery_power_positive", "charging")
    sign = 1.0 if positive == "charging" else -1.0
    period, window, quantum = options.period_s, options.window_s, options.quantum_w
    supply_period = options.supply_period_s or period

    def meter(
        entity_id: str,
        truth: Callable[[float], float],
        period_s: float = period,
        quantum: float = quantum,
        noise: float = options.noise_w,
        noise_share: float = options.noise_share,
    ) -> Meter:
        lag_s = rng.uniform(0.2, 2.0) * options.clock_lag_s
        jitter_s = options.jitter_s * period_s / 2
        return Meter(
            entity_id, truth, period_s, lag_s, jitter_s, quantum, noise, noise_share
        )

    def amperes(at_s: float) -> float:
        power_w = supply.bank_at(at_s, window)
        return sign * power_w / supply.voltage_at(at_s, power_w)

    if "ac_load_power" in sensors:
        yield meter(sensors["ac_load_power"], lambda t: loads.ac.mean(t - window, t))
    if "dc_load_power" in sensors:
        seen = loads.dc_total if options.dc_only else loads.dc_loads
        yield meter(sensors["dc_load_power"], lambda t: seen.mean(t - window, t))
    for entry in boat.description["appliances"]:
        if "power_sensor" in entry:
            own = loads.meters[entry["name"]]
            yield meter(
                entry["power_sensor"],
                lambda t, own=own: own.mean(t - window, t),  # type: ignore[misc]
                noise=0.3 * options.noise_w,
            )
    if "solar_power" in sensors:
        yield meter(
            sensors["solar_power"],
            supply.solar_at,
            period_s=max(supply_period, rng.choice((1.0, 2.0, 3.0))),
            noise=0.8,
            noise_share=0.002,
        )
    if "other_charging_power" in sensors:
        yield meter(
            sensors["other_charging_power"],
            supply.engine_at,
            period_s=supply_period,
            noise=0.0,
            noise_share=0.003,
        )
    if "battery_power" in sensors:
        yield meter(
            sensors["battery_power"],
            lambda t: sign * supply.bank_at(t, window),
            period_s=supply_period,
        )
    if "battery_current" in sensors:
        # A shunt resolves better than a watt: 0.1 A.
        yield meter(
            sensors["battery_current"],
            amperes,
            period_s=supply_period,
            quantum=0.1,
            noise=0.05,
            noise_share=0.001,
        )
    if "battery_voltage" in sensors:
        yield meter(
            sensors["battery_voltage"],
            lambda t: supply.voltage_at(t, supply.bank_at(t, window)),
            period_s=supply_period,
            quantum=0.01,
            noise=0.004,
            noise_share=0.0,
        )
    if "battery_soc" in sensors:
        yield meter(
            sensors["battery_soc"],
            supply.soc_at,
            period_s=30.0,
            quantum=0.1,
            noise=0.0,
            noise_share=0.0,
        )


def _switches(
    boat: SimBoat,
    options: SimOptions,
    seed: int,
    clock: BoatClock,
    runs: Sequence[PlacedRun],
    start_s: float,
    end_s: float,
) -> tuple[Row, ...]:
    spans = live_spans(boat, options, seed, clock, runs, start_s, end_s)
    rows: list[Row] = []
    for circuit in boat.description.get("circuits", ()):
        if "relay" not in circuit:
            continue
        changes = {start_s: "off"}
        for from_s, to_s in spans[circuit["name"]]:
            changes[from_s] = "on"
            if to_s < end_s:
                changes[to_s] = "off"
        rows += [(circuit["relay"], state, at_s) for at_s, state in changes.items()]
    return tuple(sorted(rows, key=lambda row: row[2]))
