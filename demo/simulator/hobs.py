"""Hobs: an induction hob with levels, and a hotplate with an energy regulator."""

from dataclasses import dataclass
import random
from typing import Self

from .pieces import Pieces, pulses
from .task import Task
from .thermal import WATER_J_KG_K


def _minutes(rng: random.Random, task: Task, low: float, high: float) -> float:
    return task.minutes if task.minutes is not None else rng.uniform(low, high)


@dataclass(frozen=True, slots=True)
class InductionHob:
    """One zone with levels; below `continuous_share` of full power it pulses instead.

    `idle_w` is what electronics and fan draw while the coil is off and the hob is on.
    """

    power_w: float
    levels: int
    continuous_share: float
    pulse_period_s: float
    idle_w: float
    pan_efficiency: float
    lifts_per_minute: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a hob of that full power."""
        return cls(
            power_w=power_w,
            levels=rng.choice((6, 8, 9, 10, 12)),
            continuous_share=rng.uniform(0.28, 0.55),
            pulse_period_s=rng.choice((1.8, 2.5, 4.0, 6.0, 9.0))
            * rng.uniform(0.9, 1.1),
            idle_w=standby_w + rng.uniform(3, 12),
            pan_efficiency=rng.uniform(0.78, 0.88),
            lifts_per_minute=rng.uniform(0.05, 0.25),
        )

    def _level(self, share: float) -> float:
        """Return the share of full power of the level nearest to the wanted one."""
        return max(1, min(self.levels, round(share * self.levels))) / self.levels

    def _at(
        self, rng: random.Random, seconds: float, level: float, pan: float
    ) -> Pieces:
        full = self.power_w * pan
        if level >= self.continuous_share:
            return [(seconds, full * level)]
        return pulses(
            rng,
            seconds,
            full * self.continuous_share,
            self.idle_w,
            level / self.continuous_share,
            self.pulse_period_s,
        )

    def _stir(
        self, rng: random.Random, seconds: float, level: float, pan: float, busy: float
    ) -> Pieces:
        """Cook for a while at about a level: stirred, lifted, turned up and down."""
        pieces: Pieces = []
        left = seconds
        while left > 0:
            spell = min(left, rng.expovariate(busy / 240.0) + 20)
            lift = rng.random() < self.lifts_per_minute * busy * spell / 60.0
            if lift:
                gone = min(rng.uniform(2, 22), spell / 3)
                before = rng.uniform(0.2, 0.8) * (spell - gone)
                pieces += self._at(rng, before, level, pan)
                pieces.append((gone, self.idle_w))
                pan = min(1.04, max(0.86, pan * rng.gauss(1, 0.012)))
                pieces += self._at(rng, spell - gone - before, level, pan)
            else:
                pieces += self._at(rng, spell, level, pan)
            left -= spell
            if rng.random() < 0.35:
                step = rng.choice((-1, 1)) / self.levels
                level = self._level(min(1.0, max(1 / self.levels, level + step)))
        return pieces

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Cook: boil and simmer, fry, or brown and then stew."""
        pan = rng.uniform(0.92, 1.0)
        way = task.way or rng.choices(("boil", "fry", "stew"), (5, 3, 3))[0]
        detect = [(rng.uniform(0.5, 2.5), self.idle_w)]
        if way == "fry":
            seconds = 60 * _minutes(rng, task, 5, 16)
            hot = self._level(rng.uniform(0.65, 1.0))
            medium = self._level(rng.uniform(0.4, 0.7))
            first = min(seconds / 2, rng.uniform(45, 150))
            return (
                detect
                + self._at(rng, first, hot, pan)
                + self._stir(rng, seconds - first, medium, pan, 1.0)
            )
        litres = task.litres if task.litres is not None else rng.uniform(0.4, 2.2)
        high = self._level(rng.choice((1.0, 1.0, 0.85, 0.7)))
        boil_s = (
            litres
            * WATER_J_KG_K
            * (98 - rng.uniform(15, 22))
            / (self.pan_efficiency * self.power_w * pan * high)
        )
        simmer = self._level(task.level or rng.uniform(0.12, 0.42))
        if way == "boil":
            hold_s = 60 * _minutes(rng, task, 4, 16)
            return (
                detect
                + self._at(rng, boil_s, high, pan)
                + self._stir(rng, hold_s, simmer, pan, 0.6)
            )
        brown_s = rng.uniform(120, 360)
        hold_s = 60 * _minutes(rng, task, 15, 45)
        return (
            detect
            + self._stir(rng, brown_s, self._level(rng.uniform(0.5, 0.75)), pan, 1.2)
            + self._at(rng, boil_s * 0.7, high, pan)
            + self._stir(rng, hold_s, simmer, pan, 0.5)
        )


@dataclass(frozen=True, slots=True)
class ElectricHob:
    """A hotplate: full power, or full power for a share of a slow period."""

    power_w: float
    period_s: float
    shares: tuple[float, ...]
    plate_j_k: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a hotplate of that power; it has no electronics, hence no idle draw."""
        return cls(
            power_w=power_w,
            period_s=rng.uniform(18, 55),
            shares=tuple(sorted(rng.uniform(0.12, 0.8) for _ in range(4))),
            plate_j_k=rng.uniform(600, 1400),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Heat the plate and the pot at full power, then turn down once or twice."""
        litres = task.litres if task.litres is not None else rng.uniform(0.3, 1.6)
        capacity = litres * WATER_J_KG_K + self.plate_j_k * 1.5
        boil_s = capacity * 78 / (0.72 * self.power_w)
        left = 60 * _minutes(rng, task, 5, 25)
        pieces: Pieces = [(boil_s, self.power_w)]
        while left > 0:
            spell = min(left, rng.uniform(150, 900))
            share = rng.choice(self.shares)
            pieces += pulses(rng, spell, self.power_w, 0.0, share, self.period_s)
            left -= spell
        return pieces
