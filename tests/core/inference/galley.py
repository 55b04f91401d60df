"""A galley for tests: appliances, a load drawn by hand, and what inference says of it."""

from collections.abc import Iterable, Sequence
from copy import replace
from dataclasses import dataclass
import random
from zoneinfo import ZoneInfo

from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Circuit,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.activity import Phase, Segment
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.kind import Kind
from custom_components.galley_loads.core.metering.load_sample import LoadSample

START_S = 1_778_500_800.0
REST_W = 60.0


def appliance(name: str, kind: Kind, rated_w: float, **more: object) -> Appliance:
    return Appliance(name, kind, rated_w, **more)  # type: ignore[arg-type]


HOB = appliance("Hob", catalogue.INDUCTION_HOB, 1800)
KETTLE = appliance("Kettle", catalogue.KETTLE, 2000)
TOASTER = appliance("Toaster", catalogue.TOASTER, 850)
OVEN = appliance("Oven", catalogue.OVEN, 1500)
BATH = appliance("Water bath", catalogue.WATER_BATH, 1000)
RICE = appliance("Rice cooker", catalogue.RICE_COOKER, 500)
COFFEE = appliance("Coffee maker", catalogue.COFFEE_MAKER, 900)
MICROWAVE = appliance("Microwave", catalogue.MICROWAVE, 1200)
BREAD_MAKER = appliance("Bread maker", catalogue.BREAD_MAKER, 600)
HEATER = appliance("Water heater", catalogue.WATER_HEATER, 1200)


def boat(*appliances: Appliance, circuits: tuple[Circuit, ...] = ()) -> Boat:
    return Boat(
        name="Kittiwake",
        latitude=38.53,
        longitude=-28.62,
        time_zone=ZoneInfo("Atlantic/Azores"),
        sensors=Sensors(ac_load_power=Sensor("sensor.load")),
        bank=Bank(560.0, 12.8, 35.0),
        appliances=appliances,
        circuits=circuits,
    )


type Piece = tuple[float, float]
"""(seconds, W above the rest)."""


def drawn(
    *loads: tuple[float, Sequence[Piece]],
    until_s: float = 3600.0,
    rest_w: float = REST_W,
    period_s: float = 2.0,
    noise_w: float = 1.5,
    quantum_w: float = 1.0,
    seed: int = 1,
) -> list[LoadSample]:
    """Return load samples: each load begins at a time and goes through its pieces.

    Only changes are given, and the last value again at every full minute.
    """
    rng = random.Random(seed)
    samples: list[LoadSample] = []
    last: float | None = None
    at_s, minute = 0.0, 60.0
    while at_s < until_s:
        power = rest_w + rng.gauss(0.0, noise_w)
        for begin, pieces in loads:
            into = at_s - begin
            for seconds, watts in pieces:
                if 0.0 <= into < seconds:
                    power += watts
                    break
                into -= seconds
        power = quantum_w * round(power / quantum_w)
        while at_s >= minute:
            if last is not None:
                samples.append(LoadSample(START_S + minute, last))
            minute += 60.0
        if power != last:
            samples.append(LoadSample(START_S + at_s, power))
            last = power
        at_s += period_s * rng.uniform(0.95, 1.05)
    return samples


@dataclass
class Said:
    """One run as inference reported it; times from the start of the load."""

    appliance: str
    start_s: float
    end_s: float
    energy_wh: float
    confidence: float
    phases: set[Phase]
    powers: list[float]


def runs_of(segments: Iterable[Segment]) -> list[Said]:
    """Return the runs that settled segments make."""
    runs: dict[tuple[str, float], Said] = {}
    for segment in segments:
        for a in segment.activities:
            run = runs.setdefault(
                (a.appliance, a.run_start_s),
                Said(a.appliance, segment.start_s - START_S, 0.0, 0.0, 0.0, set(), []),
            )
            run.end_s = segment.end_s - START_S
            run.energy_wh += a.power_w * (segment.end_s - segment.start_s) / 3600.0
            run.confidence = a.confidence
            run.phases.add(a.phase)
            run.powers.append(a.power_w)
    return list(runs.values())


def settled(inference: Inference, samples: Iterable[LoadSample]) -> list[Segment]:
    """Return all that is settled once the samples are through and the history ends."""
    result: list[Segment] = []
    for sample in samples:
        inference.observe(sample)
        result += inference.take_settled()
    inference.finish()
    return result + inference.take_settled()


def reported(aboard: Boat, samples: Iterable[LoadSample]) -> list[Said]:
    """Return the runs that inference finds in a load."""
    return runs_of(settled(Inference(aboard), samples))


def names(runs: Iterable[Said]) -> list[str]:
    return [run.appliance for run in runs]


def with_gap(samples: list[LoadSample], from_s: float, to_s: float) -> list[LoadSample]:
    """Take the load away between two times."""
    kept = [s for s in samples if not START_S + from_s <= s.at_s < START_S + to_s]
    number = next(
        (i for i, s in enumerate(kept) if s.at_s >= START_S + to_s), len(kept)
    )
    kept.insert(number, LoadSample(START_S + from_s, None))
    return kept


def with_relay(
    samples: list[LoadSample], circuit: str, from_s: float
) -> list[LoadSample]:
    """Open a circuit from a time on."""
    return [
        replace(s, open_circuits=frozenset({circuit}))
        if s.at_s >= START_S + from_s
        else s
        for s in samples
    ]
