"""Weather: how much of a clear sky is left, every ten seconds."""

from array import array
import math
import random

from .timeline import GRID_S


def _clear(rng: random.Random, cells: int) -> list[float]:
    level = rng.uniform(0.93, 1.0)
    values: list[float] = []
    for _ in range(cells):
        level = min(1.01, max(0.88, level + rng.gauss(0, 0.0015)))
        values.append(level)
    return values


def _broken(rng: random.Random, cells: int) -> list[float]:
    """Sun and shade in turn; the rim of a cloud makes it brighter for a moment."""
    values: list[float] = []
    sunny = rng.random() < 0.5
    cover = rng.uniform(0.25, 0.7)
    while len(values) < cells:
        mean_s = (1 - cover) * 600 if sunny else cover * 600
        length = max(2, round(rng.expovariate(1 / mean_s) / GRID_S))
        level = rng.uniform(0.95, 1.12) if sunny else rng.uniform(0.22, 0.6)
        for _ in range(length):
            level += rng.gauss(0, 0.008)
            before = values[-1] if values else level
            values.append(before + 0.45 * (level - before))
        sunny = not sunny
    return values[:cells]


def _overcast(rng: random.Random, cells: int) -> list[float]:
    goal = rng.uniform(0.18, 0.5)
    level = goal
    values: list[float] = []
    for number in range(cells):
        if number % 180 == 0:
            goal = min(0.65, max(0.12, goal + rng.gauss(0, 0.06)))
        level += 0.01 * (goal - level) + rng.gauss(0, 0.004)
        values.append(max(0.08, level))
    return values


NEXT = {"clear": (6, 3, 1), "broken": (3, 5, 3), "overcast": (1, 4, 4)}
"""How often each sort of half-day is followed by clear, broken, overcast."""


def clearness(rng: random.Random, cells: int, first: str | None = None) -> array[float]:
    """Return the share of the clear sky that gets through, per grid cell."""
    makers = {"clear": _clear, "broken": _broken, "overcast": _overcast}
    sort = first or rng.choice(tuple(makers))
    values = array("f")
    while len(values) < cells:
        length = min(cells - len(values), round(rng.uniform(5, 14) * 3600 / GRID_S))
        values.extend(makers[sort](rng, length))
        sort = rng.choices(tuple(makers), NEXT[sort])[0]
    for index in range(1, len(values)):  # the sky does not jump between half-days
        if abs(values[index] - values[index - 1]) > 0.35:
            values[index] = values[index - 1] + math.copysign(
                0.2, values[index] - values[index - 1]
            )
    return values
