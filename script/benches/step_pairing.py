"""The published baseline: pair each step up with a step down of equal size.

G. W. Hart, "Nonintrusive appliance load monitoring", Proc. IEEE 80(12) (1992) 1870-1891:
find steady states (three samples within 15 W), take the steps between them, pair an ON
with a later OFF of nearly equal size, and name the pair by its power. Here the name is
that of the appliance whose rating is nearest, within a fifth; other pairs have no name.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

STEADY_W: Final = 15.0
STEADY_SAMPLES: Final = 3
LEAST_STEP_W: Final = 70.0
PAIR_SHARE: Final = 0.05
NAME_SHARE: Final = 0.2
LONGEST_S: Final = 4.0 * 3600.0


@dataclass(frozen=True, slots=True)
class Pair:
    """A load that went on and off."""

    start_s: float
    end_s: float
    power_w: float
    name: str | None


def steps(samples: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return (at_s, step_w) between the steady states of a load series."""
    result: list[tuple[float, float]] = []
    run: list[tuple[float, float]] = []
    steady: float | None = None
    for at_s, power_w in samples:
        if run and abs(power_w - run[-1][1]) > STEADY_W:
            run = []
        run.append((at_s, power_w))
        if len(run) < STEADY_SAMPLES:
            continue
        level = sum(p for _, p in run[-STEADY_SAMPLES:]) / STEADY_SAMPLES
        if steady is None:
            steady = level
        elif abs(level - steady) > LEAST_STEP_W:
            result.append((run[0][0], level - steady))
            steady = level
        else:
            steady = level
        del run[:-STEADY_SAMPLES]
    return result


def pair(
    changes: Sequence[tuple[float, float]], ratings: dict[str, float]
) -> list[Pair]:
    """Return the pairs of steps, named by the nearest rating."""
    waiting: list[tuple[float, float]] = []
    pairs: list[Pair] = []
    for at_s, step_w in changes:
        waiting = [w for w in waiting if at_s - w[0] <= LONGEST_S]
        if step_w > 0.0:
            waiting.append((at_s, step_w))
            continue
        fitting = [
            (abs(up + step_w), start, up)
            for start, up in waiting
            if abs(up + step_w) <= max(STEADY_W, PAIR_SHARE * up)
        ]
        if not fitting:
            continue
        _, start_s, power_w = min(fitting)
        waiting.remove((start_s, power_w))
        name, rated = min(
            ratings.items(),
            key=lambda item: abs(item[1] - power_w),
            default=(None, 1.0),
        )
        if name is None or abs(power_w / rated - 1.0) > NAME_SHARE:
            name = None
        pairs.append(Pair(start_s, at_s, power_w, name))
    return pairs
