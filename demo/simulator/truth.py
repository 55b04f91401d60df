"""What truly happened, for whoever wants to compare."""

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from .day import HOT_WATER

MEAL_GAP_S: Final = 30 * 60


@dataclass(frozen=True, slots=True)
class TrueRun:
    """One run as the cook would tell it; energy on the AC side, standby apart."""

    appliance: str
    start_s: float
    end_s: float
    energy_wh: float


@dataclass(frozen=True, slots=True)
class TrueMeal:
    """Cooking runs with less than half an hour between one's end and the next one's start."""

    start_s: float
    end_s: float
    appliances: frozenset[str]
    energy_wh: float


@dataclass(frozen=True, slots=True)
class Truth:
    """The whole truth about a simulation, energies in Wh on the AC side.

    `grid` has each appliance's mean W per ten seconds from `start_s` on. The load is
    what the boat's load meters see: runs, standby, unnamed loads, background and, where the
    load is known on the DC side only, `conversion_wh` (what the inverter's true losses
    differ from its stated efficiency). `soc` (percent), `solar_w` and `engine_w` (at the
    bank's side) are per minute.
    """

    start_s: float
    end_s: float
    runs: tuple[TrueRun, ...]
    meals: tuple[TrueMeal, ...]
    grid: dict[str, array[float]]
    appliance_wh: dict[str, float]
    standby_wh: dict[str, float]
    standby_w: dict[str, float]
    background_wh: float
    unnamed_wh: float
    conversion_wh: float
    load_wh: float
    soc: array[float]
    solar_w: array[float]
    engine_w: array[float]


def meals_of(runs: Sequence[TrueRun], kinds: dict[str, str]) -> tuple[TrueMeal, ...]:
    """Group cooking runs into meals; hot water from a heater is never part of one."""
    meals: list[list[TrueRun]] = []
    end_s = float("-inf")
    for run in sorted(runs, key=lambda run: run.start_s):
        if kinds[run.appliance] == HOT_WATER:
            continue
        if run.start_s - end_s >= MEAL_GAP_S:
            meals.append([])
        meals[-1].append(run)
        end_s = max(end_s, run.end_s)
    return tuple(
        TrueMeal(
            start_s=meal[0].start_s,
            end_s=max(run.end_s for run in meal),
            appliances=frozenset(run.appliance for run in meal),
            energy_wh=sum(run.energy_wh for run in meal),
        )
        for meal in meals
    )
