"""The boats that inference is judged on: simulated, seeds apart from those tuned on."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.reading import Reading
from demo.simulator import SimOptions, Truth, random_boat, simulate
from script.benches.recording import with_minutes

TUNED_SEEDS: Final = range(1, 17)
"""Seeds that were looked at while the inference was made; never judged on."""

UNKIND: Final = {
    "drift": 0.02,
    "ramps": True,
    "inrush": True,
    "unnamed_per_day": 2.0,
    "fridge_on_ac": True,
}


@dataclass(frozen=True, slots=True)
class BoatCase:
    """One group of simulated boats and the seeds it is judged on."""

    name: str
    seeds: tuple[int, ...]
    options: dict[str, Any]


CASES: Final = (
    BoatCase("clean", tuple(range(101, 109)), {}),
    BoatCase("unkind 2 s", tuple(range(111, 119)), UNKIND),
    BoatCase("unkind 1 s", (121, 122), UNKIND | {"period_s": 1.0}),
    BoatCase(
        "unkind 5 s, 10 W", (131, 132), UNKIND | {"period_s": 5.0, "quantum_w": 10}
    ),
    BoatCase("unkind 10 s", (141, 142), UNKIND | {"period_s": 10.0}),
    BoatCase("one appliance", (151,), UNKIND | {"appliances": 1}),
    BoatCase("two appliances", (152, 153), UNKIND | {"appliances": 2}),
    BoatCase(
        "dropouts, relays", (161,), UNKIND | {"relays": True, "dropouts_per_day": 4.0}
    ),
    BoatCase(
        "bank's side only",
        tuple(range(171, 175)),
        {key: value for key, value in UNKIND.items() if key != "fridge_on_ac"}
        | {"dc_only": True},
    ),
)


def simulated(
    case: BoatCase, seed: int, days: float
) -> tuple[Boat, list[LoadSample], Truth]:
    """Return a simulated boat, what inference sees of it, and the truth."""
    options = SimOptions(days=days, **case.options)
    world = random_boat(seed, options)
    result = simulate(world, seed, options)
    boat = parse_boat(world.description)
    return boat, list(with_minutes(_samples(boat, result.rows()))), result.truth


def _samples(
    boat: Boat, rows: Iterator[tuple[str, str, float]]
) -> Iterator[LoadSample]:
    assembler = LoadAssembler(boat)
    for entity_id, state, at_s in rows:
        yield from assembler.feed(Reading(entity_id, state, at_s))
