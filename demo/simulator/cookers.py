"""Pots with a programme: rice cooker, slow cooker, pressure cooker, bread maker."""

from dataclasses import dataclass
import random
from typing import Self

from .pieces import Pieces, merged, pulses
from .task import Task
from .thermal import VAPORISATION_J_KG, WATER_J_KG_K, Lump
from .water import keep_warm


@dataclass(frozen=True, slots=True)
class RiceCooker:
    """Full power until the water is taken up, then a little to keep it warm."""

    power_w: float
    warm_w: float
    warm_period_s: float
    ua_w_k: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a rice cooker of that power; it keeps warm steadily or in pulses."""
        return cls(
            power_w=power_w,
            warm_w=rng.uniform(22, 60),
            warm_period_s=rng.choice((0.0, 0.0, 45.0, 90.0)),
            ua_w_k=rng.uniform(0.3, 0.8),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Cook a pot of rice."""
        litres = task.litres if task.litres is not None else rng.uniform(0.5, 1.3)
        pot = Lump(rng.uniform(16, 24), litres * 4000 + 500, self.ua_w_k, 21.0)
        heat_s = pot.seconds_to(100.0, self.power_w)
        boiled_off_kg = litres * rng.uniform(0.08, 0.16)
        boil_s = boiled_off_kg * VAPORISATION_J_KG / (self.power_w * 0.9)
        keep = task.keep_warm_minutes
        warm_s = 60 * (keep if keep is not None else rng.choice((5, 10, 20, 35, 60)))
        pieces: Pieces = [(heat_s + boil_s, self.power_w)]
        pieces += keep_warm(rng, warm_s, self.warm_w, self.power_w, self.warm_period_s)
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class SlowCooker:
    """A little for hours: steady at a step, or a thermostat that cycles it."""

    power_w: float
    low_share: float
    thermostat_s: float
    duty: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a slow cooker of that power on its high step."""
        return cls(
            power_w=power_w,
            low_share=rng.uniform(0.5, 0.75),
            thermostat_s=rng.choice((0.0, 0.0, 180.0, 400.0)),
            duty=rng.uniform(0.35, 0.7),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Simmer something all afternoon."""
        seconds = 60 * (
            task.minutes if task.minutes is not None else rng.uniform(150, 420)
        )
        high_s = min(seconds, rng.choice((0.0, 1800.0, 3600.0, 5400.0)))
        low_w = self.power_w * self.low_share
        if self.thermostat_s <= 0:
            return merged([(high_s, self.power_w), (seconds - high_s, low_w)])
        cycling = pulses(
            rng,
            seconds - high_s,
            self.power_w,
            0.0,
            self.duty,
            self.thermostat_s,
            jitter=0.08,
        )
        pieces: Pieces = [(max(high_s, 600.0), self.power_w), *cycling]
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class PressureCooker:
    """Up to pressure at full power, then short bursts that keep it there."""

    power_w: float
    burst_s: float
    period_s: float
    electronics_w: float
    working_c: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a pressure cooker of that power."""
        return cls(
            power_w=power_w,
            burst_s=rng.uniform(4, 14),
            period_s=rng.uniform(30, 90),
            electronics_w=standby_w + rng.uniform(1, 5),
            working_c=rng.uniform(111, 118),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Heat up, cook under pressure for the minutes set, keep warm for a while."""
        litres = task.litres if task.litres is not None else rng.uniform(0.8, 2.5)
        pot = Lump(rng.uniform(14, 24), litres * WATER_J_KG_K + 1500, 0.7, 21.0)
        heat_s = pot.seconds_to(self.working_c, self.power_w)
        minutes = task.minutes if task.minutes is not None else rng.uniform(8, 35)
        pieces: Pieces = [(heat_s, self.power_w)]
        pieces += pulses(
            rng,
            60 * minutes,
            self.power_w,
            self.electronics_w,
            self.burst_s / self.period_s,
            self.period_s,
            jitter=0.12,
        )
        keep = task.keep_warm_minutes
        warm_s = 60 * (keep if keep is not None else rng.choice((0, 0, 5, 15)))
        if warm_s:
            pieces.append((warm_s, self.electronics_w))
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class BreadMaker:
    """Kneads, rests, warms the dough in pulses, and bakes on a thermostat."""

    power_w: float
    motor_w: float
    electronics_w: float
    bake_duty: float
    bake_period_s: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a bread maker of that baking power."""
        return cls(
            power_w=power_w,
            motor_w=rng.uniform(50, 110),
            electronics_w=standby_w + rng.uniform(1, 3),
            bake_duty=rng.uniform(0.45, 0.75),
            bake_period_s=rng.uniform(40, 150),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Make one loaf."""
        idle = self.electronics_w
        knead = pulses(rng, rng.uniform(180, 420), self.motor_w, idle, 0.5, 2.4)
        strong = [
            (rng.uniform(20, 60), self.motor_w * rng.uniform(0.95, 1.1))
            for _ in range(18)
        ]
        rise_s = 60 * rng.uniform(50, 90)
        rise = pulses(rng, rise_s, self.power_w, idle, 0.03, 160.0, jitter=0.2)
        turn = [(rng.uniform(10, 30), self.motor_w)]
        minutes = task.minutes if task.minutes is not None else rng.uniform(40, 60)
        warm_up = [(rng.uniform(300, 540), self.power_w)]
        bake = pulses(
            rng,
            60 * minutes,
            self.power_w,
            idle,
            self.bake_duty,
            self.bake_period_s,
            jitter=0.08,
        )
        return merged(
            [*knead, (300.0, idle), *strong, *rise, *turn, *rise[:40], *warm_up, *bake]
        )
