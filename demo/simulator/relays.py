"""When the galley's circuits are live: a careful crew opens them for the night."""

from collections.abc import Sequence
import random

from .boat import SimBoat
from .clock import BoatClock
from .day import PlacedRun
from .options import SimOptions

type Spans = tuple[tuple[float, float], ...]


def live_spans(
    boat: SimBoat,
    options: SimOptions,
    seed: int,
    clock: BoatClock,
    runs: Sequence[PlacedRun],
    start_s: float,
    end_s: float,
) -> dict[str, Spans]:
    """Return when each circuit is live; without relays always."""
    circuits = {a.circuit for a in boat.appliances if a.circuit is not None}
    if not options.relays:
        return dict.fromkeys(circuits, ((start_s, end_s),))
    result: dict[str, Spans] = {}
    for circuit in sorted(circuits):
        rng = random.Random(f"relay {seed} {circuit}")
        names = {a.name for a in boat.appliances if a.circuit == circuit}
        uses = sorted((r.start_s, r.end_s) for r in runs if r.appliance in names)
        spans: list[list[float]] = []
        for midnight_s in clock.midnights(start_s - 86400, end_s):
            day = [
                u for u in uses if midnight_s <= u[0] - 4 * 3600 < midnight_s + 86400
            ]
            if not day:
                continue
            from_s = max(start_s, day[0][0] - rng.uniform(60, 3600))
            to_s = min(end_s, max(stop for _, stop in day) + rng.uniform(600, 5400))
            if spans and from_s <= spans[-1][1]:
                spans[-1][1] = max(to_s, spans[-1][1])
            else:
                spans.append([from_s, to_s])
        result[circuit] = tuple((span[0], span[1]) for span in spans)
    return result
