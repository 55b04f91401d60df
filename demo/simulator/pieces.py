"""A run as a list of pieces: so many seconds at so many watts, one after the other."""

from collections.abc import Iterable
import math
import random

type Pieces = list[tuple[float, float]]
"""(duration_s, power_w), in order."""


def duration_s(pieces: Iterable[tuple[float, float]]) -> float:
    """Return how long the pieces last together."""
    return sum(seconds for seconds, _ in pieces)


def energy_wh(pieces: Iterable[tuple[float, float]]) -> float:
    """Return the energy of the pieces, Wh."""
    return sum(seconds * power for seconds, power in pieces) / 3600.0


def pulses(
    rng: random.Random,
    seconds: float,
    on_w: float,
    off_w: float,
    duty: float,
    period_s: float,
    jitter: float = 0.03,
) -> Pieces:
    """Return pulses of `on_w` over `off_w` that fill `seconds` at a mean `duty`."""
    pieces: Pieces = []
    left = seconds
    while left > 0:
        period = period_s * max(0.3, rng.gauss(1.0, jitter))
        for part, power in ((duty * period, on_w), ((1 - duty) * period, off_w)):
            part = min(part, left)
            if part > 0:
                pieces.append((part, power))
            left -= part
    return pieces


def merged(pieces: Pieces) -> Pieces:
    """Join neighbours of equal power and leave out empty pieces."""
    joined: Pieces = []
    for seconds, power in pieces:
        if seconds <= 0:
            continue
        if joined and joined[-1][1] == power:
            joined[-1] = (joined[-1][0] + seconds, power)
        else:
            joined.append((seconds, power))
    return joined


def wandering(
    rng: random.Random, pieces: Pieces, share: float, floor_w: float
) -> Pieces:
    """Let the power of longer pieces wander by about `share`, a step every 5 to 25 s.

    Powers at or below `floor_w` (fans, electronics) stay as they are.
    """
    if share <= 0:
        return pieces
    result: Pieces = []
    wander = 0.0
    for seconds, power in pieces:
        if power <= floor_w or seconds < 8:
            result.append((seconds, power * (1 + wander) if power > floor_w else power))
            continue
        left = seconds
        while left > 0:
            part = min(left, rng.uniform(5, 25))
            wander = 0.85 * wander + rng.gauss(0, share * 0.53)
            result.append((part, power * (1 + wander)))
            left -= part
    return result


def warming(pieces: Pieces, droop: float, tau_s: float, floor_w: float) -> Pieces:
    """Let a warm element draw `droop` less than a cold one, with time constant `tau_s`."""
    if droop <= 0:
        return pieces
    result: Pieces = []
    warmth = 0.0
    for seconds, power in pieces:
        left = seconds
        while left > 0:
            part = min(left, tau_s / 3 if power > floor_w else left)
            goal = 1.0 if power > floor_w else 0.0
            after = goal + (warmth - goal) * math.exp(-part / tau_s)
            factor = 1 - droop * (warmth + after) / 2 if power > floor_w else 1.0
            result.append((part, power * factor))
            warmth = after
            left -= part
    return result


def switch_on(
    pieces: Pieces, ramp_s: float, inrush: float, inrush_s: float, floor_w: float
) -> Pieces:
    """Shape each switch-on: a ramp over `ramp_s`, or `inrush` times the power at first."""
    if ramp_s <= 0 and inrush <= 1:
        return pieces
    result: Pieces = []
    before = 0.0
    for seconds, power in pieces:
        left = seconds
        if before <= floor_w < power:
            if ramp_s > 0 and left > ramp_s:
                steps = max(2, min(6, int(ramp_s / 0.8)))
                for step in range(steps):
                    share = (step + 0.5) / steps
                    result.append((ramp_s / steps, before + (power - before) * share))
                left -= ramp_s
            elif inrush > 1 and left > inrush_s:
                result.append((inrush_s, power * inrush))
                left -= inrush_s
        if left > 0:
            result.append((left, power))
        before = power
    return result
