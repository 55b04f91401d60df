"""What draws when nobody cooks: fridge, lights, pumps, instruments, a laptop."""

import random

from .boat import SimBackground
from .clock import BoatClock
from .steps import Steps, from_events

type Changes = list[tuple[float, float]]
"""(at_s, change_w), in any order."""


def _on(changes: Changes, from_s: float, to_s: float, power_w: float) -> None:
    if to_s > from_s:
        changes.append((from_s, power_w))
        changes.append((to_s, -power_w))


def _fridge(
    rng: random.Random, loads: SimBackground, start_s: float, end_s: float
) -> Changes:
    """A compressor on a thermostat; it starts with a short inrush."""
    changes: Changes = []
    at_s = start_s - rng.uniform(0, 60 * loads.fridge_off_min)
    while at_s < end_s:
        on_s = 60 * loads.fridge_on_min * rng.uniform(0.75, 1.35)
        power = loads.fridge_w * rng.gauss(1, 0.015)
        begin, stop = max(at_s, start_s), min(at_s + on_s, end_s)
        if stop > begin:
            third = (stop - begin) / 3
            _on(changes, begin, begin + 0.6, power * 1.8)
            for part, share in enumerate((1.06, 1.0, 0.97)):
                _on(
                    changes,
                    begin + part * third,
                    begin + (part + 1) * third,
                    power * share,
                )
        at_s += on_s + 60 * loads.fridge_off_min * rng.uniform(0.7, 1.4)
    return changes


def dc_background(
    rng: random.Random,
    loads: SimBackground,
    clock: BoatClock,
    start_s: float,
    end_s: float,
) -> Steps:
    """Return the DC loads that nobody cooks with."""
    changes: Changes = [(start_s, loads.instruments_w)]
    if not loads.fridge_on_ac:
        changes += _fridge(rng, loads, start_s, end_s)
    for midnight_s in clock.midnights(start_s, end_s):
        dusk = midnight_s + 3600 * rng.uniform(18.2, 19.6)
        bed = midnight_s + 3600 * rng.uniform(22, 23.7)
        for _ in range(3):
            begin = dusk + rng.uniform(0, 3600)
            _on(changes, begin, bed - rng.uniform(0, 2400), loads.lights_w / 3)
        _on(changes, bed, midnight_s + 3600 * 30.5, 2.5)  # anchor light
        for _ in range(round(rng.gauss(loads.pumps_per_day, 3))):
            begin = midnight_s + 3600 * rng.triangular(6.5, 23, 13)
            _on(
                changes,
                begin,
                begin + rng.uniform(3, 25),
                loads.pump_w * rng.gauss(1, 0.04),
            )
        for _ in range(rng.randrange(3)):
            begin = midnight_s + 3600 * rng.uniform(8, 22)
            _on(changes, begin, begin + rng.uniform(600, 7200), rng.uniform(5, 25))
    kept = [(min(max(at_s, start_s), end_s), watts) for at_s, watts in changes]
    return from_events(start_s, kept)


def ac_background(
    rng: random.Random,
    loads: SimBackground,
    clock: BoatClock,
    start_s: float,
    end_s: float,
) -> Steps:
    """Return the loads at the inverter that nobody cooks with."""
    changes: Changes = [(start_s, loads.ac_base_w)]
    if loads.fridge_on_ac:
        changes += _fridge(rng, loads, start_s, end_s)
    for midnight_s in clock.midnights(start_s, end_s):
        for _ in range(rng.randrange(1, 4)):
            begin = midnight_s + 3600 * rng.uniform(8, 21.5)
            full_s = rng.uniform(1200, 5400)
            _on(changes, begin, begin + full_s, loads.laptop_w * rng.gauss(1, 0.03))
            for step in range(1, 6):  # its charger tapers
                after = begin + full_s + (step - 1) * 300
                _on(changes, after, after + 300, loads.laptop_w * 0.72**step)
    kept = [(min(max(at_s, start_s), end_s), watts) for at_s, watts in changes]
    return from_events(start_s, kept)
