"""All loads of a span together: what each drew, and what they add up to."""

from array import array
from dataclasses import dataclass
import random

from .background import ac_background, dc_background
from .boat import SimBoat
from .clock import BoatClock
from .day import PlacedRun, Planner
from .options import SimOptions
from .relays import Spans
from .steps import Steps, combined, from_events
from .timeline import GRID_S, VOLTAGE_DROP, Channel, run_channel, sweep
from .truth import TrueRun


@dataclass(frozen=True, slots=True)
class Loads:
    """What became of runs, standby and background on both sides of the inverter.

    Energies and the grid count on the AC side; `power` is each appliance's power on its
    own side, standby included.
    """

    ac: Steps
    dc_loads: Steps
    dc_total: Steps
    runs: tuple[TrueRun, ...]
    grid: dict[str, array[float]]
    standby_wh: dict[str, float]
    unnamed_wh: float
    ac_background_wh: float
    dc_background_wh: float
    power: dict[str, Steps]


def carry_loads(
    boat: SimBoat,
    options: SimOptions,
    seed: int,
    clock: BoatClock,
    planner: Planner,
    live: dict[str, Spans],
    start_s: float,
    end_s: float,
) -> Loads:
    """Let the boat carry what the planner placed, with everything around it."""
    rng = random.Random(f"background {seed}")
    dc_rest = dc_background(rng, boat.background, clock, start_s, end_s)
    ac_rest = ac_background(rng, boat.background, clock, start_s, end_s)
    cells = round((end_s - start_s) / GRID_S)
    grid = {a.name: array("f", bytes(4 * cells)) for a in boat.appliances}
    meters: dict[str, list[tuple[float, float]]] = {
        appliance.name: [] for appliance in boat.appliances
    }
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
    for name, factor in share.items():
        if factor != 1.0:
            grid[name] = array("f", (watts * factor for watts in grid[name]))
    return Loads(
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
        power={name: from_events(start_s, changes) for name, changes in meters.items()},
    )
