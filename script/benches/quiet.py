"""Is anything cut by itself while it cooks quietly, and is standby cut all the same?

    script/bench quiet [--idle-hours 22] [--kind KIND] [--json OUT.json]

Every kind of appliance lives through three programmes (`quiet_programmes.py`) on a circuit
under the rule *auto*, with a meter of its own and without, through the whole engine and the
rules of cutting. Told are the cuts in the middle of a programme (there must be none), how
often somebody was asked in the middle of one, and which share of the true standby energy
after it was cut, where the kind is cut without a question.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import count
import json
from pathlib import Path
from random import Random
from typing import Any, Final

from quiet_programmes import HOUR, QUIET, Pieces, Programmes

from custom_components.galley_loads.core.boat.boat import Boat, CutRule
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.cutting import Ask, Cut, CutFacts, CuttingRules
from custom_components.galley_loads.core.cutting.permission import with_rule_allowed
from custom_components.galley_loads.core.engine import Engine

START_S: Final = 1_778_459_400.0
"""2026-05-11 00:30 UTC."""
AC, METER, RELAY = "sensor.ac", "sensor.own", "switch.galley"
PERIOD_S: Final = 5.0
WORK_LOOK_S: Final = 30.0
QUIET_LOOK_S: Final = 120.0
REST_S: Final = 2 * HOUR
"""So long the boat is at rest, the relay open, before the programme."""
REST_W: Final = 95.0


@dataclass(frozen=True, slots=True)
class Lived:
    """What came of one programme."""

    kind: str
    shape: str
    metered: bool
    by_itself: bool
    cuts_at_work: int
    asked_at_work: int
    cut_after_s: float | None
    standby_wh: float
    cut_wh: float


def boat_of(kind: str, programmes: Programmes, *, metered: bool) -> Boat:
    """Return a boat with that appliance alone on a circuit, and a kettle on another."""
    appliance: dict[str, Any] = {
        "name": "It",
        "kind": kind,
        "rated_power": programmes.rated_w,
        "circuit": "Galley 1",
    }
    if metered:
        appliance["power_sensor"] = METER
    return parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "Atlantic/Azores",
            "sensors": {"ac_load_power": AC},
            "bank": {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 30},
            "inverter": {"continuous_power": 3000, "efficiency": 0.9},
            "appliances": [
                appliance,
                {
                    "name": "Other kettle",
                    "kind": "kettle",
                    "rated_power": 2400,
                    "circuit": "Galley 2",
                },
            ],
            "circuits": [
                {
                    "name": "Galley 1",
                    "breaker_current": 16,
                    "voltage": 230,
                    "relay": RELAY,
                    "idle_minutes": 10,
                    "cut": "auto",
                },
                {"name": "Galley 2", "breaker_current": 16, "voltage": 230},
            ],
        }
    )


def moments(pieces: Pieces, idle_s: float) -> Iterator[tuple[float, float]]:
    """Yield the time since the programme's start, every few seconds, and what it draws, W.

    A programme's draw after its end is 0; a piece shorter than the meter's period shows
    in the reading that falls into it or just after.
    """
    ends, end_s = [], 0.0
    for seconds, power_w in pieces:
        end_s += seconds
        ends.append((end_s, power_w))
    at_s, index = 0.0, 0
    while at_s < end_s + idle_s:
        energy_ws, from_s = 0.0, at_s
        while index < len(ends) and ends[index][0] <= at_s + PERIOD_S:
            energy_ws += ends[index][1] * (ends[index][0] - from_s)
            from_s = ends[index][0]
            index += 1
        if index < len(ends):
            energy_ws += ends[index][1] * (at_s + PERIOD_S - from_s)
        at_s += PERIOD_S
        yield at_s, energy_ws / PERIOD_S


def live_through(
    kind: str, shape: str, *, metered: bool, idle_s: float, seed: int = 1
) -> Lived:
    """Let a boat live through one programme and the idle time after it."""
    programmes = QUIET[kind]
    pieces = programmes.shapes[shape]
    boat = boat_of(kind, programmes, metered=metered)
    engine, random, tokens = Engine(boat), Random(seed), count()
    rules = CuttingRules(boat, lambda: f"{next(tokens):016x}")
    closed, looked_s, cuts, asked = False, 0.0, 0, 0
    cut_after_s: float | None = None
    standby_wh = cut_wh = 0.0
    end_s = START_S + REST_S + sum(seconds for seconds, _ in pieces)

    def step(at_s: float, power_w: float) -> None:
        nonlocal closed, looked_s, cuts, asked, cut_after_s, standby_wh, cut_wh
        drawn_w = power_w + programmes.standby_w if closed else 0.0
        load_w = REST_W + drawn_w + random.gauss(0, 0.8)
        engine.feed((AC, f"{load_w:.0f}", at_s))
        if metered:
            engine.feed(
                (METER, f"{max(0.0, drawn_w + random.gauss(0, 0.1)):.1f}", at_s)
            )
        at_work = at_s < end_s
        if not at_work:
            standby_wh += programmes.standby_w * PERIOD_S / HOUR
            cut_wh += 0.0 if closed else programmes.standby_w * PERIOD_S / HOUR
        if at_s - looked_s < (WORK_LOOK_S if at_work else QUIET_LOOK_S):
            return
        looked_s = at_s
        engine.advance(at_s)
        live, sample = engine.live(), engine.last_sample
        if live is None or sample is None:
            return
        facts = CutFacts(
            at_s,
            sample,
            live,
            1.0,
            {"Galley 1": closed},
            {"It": 1.0} if metered else {},
            {"Galley 1": engine.standby.circuit_standby_w("Galley 1")},
            engine.standby.load_floor_w,
            {"Galley 1": max(5.0, programmes.standby_w)},
        )
        for outcome in rules.observe(facts):
            if isinstance(outcome, Ask):
                asked += at_work
            elif isinstance(outcome, Cut):
                cuts += at_work
                if not at_work:
                    cut_after_s = at_s - end_s
                closed = False
                engine.feed((RELAY, "off", at_s))

    engine.feed((RELAY, "off", START_S))
    for tick in range(int(REST_S / PERIOD_S)):
        step(START_S + PERIOD_S * tick, 0.0)
    closed = True
    engine.feed((RELAY, "on", START_S + REST_S))
    for since_s, power_w in moments(pieces, idle_s):
        step(START_S + REST_S + since_s, power_w)
    circuit = with_rule_allowed(boat, boat.circuits[0])
    return Lived(
        kind,
        shape,
        metered,
        circuit.cut is CutRule.AUTO,
        cuts,
        asked,
        cut_after_s,
        standby_wh,
        cut_wh,
    )


def show(lives: Sequence[Lived]) -> None:
    """Print what came of one kind's programmes, with a meter or without."""
    first = lives[0]
    meter = "own meter" if first.metered else "no meter"
    if first.by_itself:
        share = sum(life.cut_wh for life in lives) / sum(
            life.standby_wh for life in lives
        )
        said = f"standby cut {share:.3f}"
    else:
        said = f"asks, {sum(life.asked_at_work for life in lives)} times at work"
    cuts = sum(life.cuts_at_work for life in lives)
    print(f"{first.kind:16} {meter:10} cuts at work {cuts:3}   {said}", flush=True)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the bench; 1 where something was cut at work or too little of standby."""
    parser = argparse.ArgumentParser(prog="script/bench quiet", description=__doc__)
    parser.add_argument("--idle-hours", type=float, default=22.0)
    parser.add_argument("--kind", choices=sorted(QUIET))
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    everything: list[Lived] = []
    worst = 1.0
    for kind in [given.kind] if given.kind else QUIET:
        for metered in (False, True):
            lives = [
                live_through(
                    kind, shape, metered=metered, idle_s=given.idle_hours * HOUR
                )
                for shape in QUIET[kind].shapes
            ]
            show(lives)
            everything += lives
            if lives[0].by_itself:
                cut_wh = sum(life.cut_wh for life in lives)
                worst = min(worst, cut_wh / sum(life.standby_wh for life in lives))
    cuts = sum(life.cuts_at_work for life in everything)
    print(f"\nall: {cuts} cuts at work in {len(everything)} programmes")
    print(
        f"all: at worst {worst:.3f} of a kind's standby cut where it is cut by itself"
    )
    if given.json is not None:
        given.json.write_text(json.dumps([asdict(life) for life in everything]) + "\n")
    return int(cuts > 0)


if __name__ == "__main__":
    raise SystemExit(main())
