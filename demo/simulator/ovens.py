"""Dry heat: oven, toaster, microwave, and a grill for `other`."""

from dataclasses import dataclass
import random
from typing import Self

from .pieces import Pieces, merged, pulses
from .task import Task
from .thermal import Lump


@dataclass(frozen=True, slots=True)
class Oven:
    """A cavity with an element, a thermostat and a fan with its lamp.

    The food is a second, colder body that takes heat from the air and makes the
    element work more at first than at the end.
    """

    power_w: float
    fan_w: float
    capacity_j_k: float
    ua_w_k: float
    hysteresis_k: float
    food_w_k: float
    ambient_c: float = 20.0

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw an oven of that whole power, fan included."""
        fan_w = rng.uniform(16, 60)
        return cls(
            power_w=power_w - fan_w,
            fan_w=fan_w,
            capacity_j_k=rng.uniform(2500, 7000),
            ua_w_k=power_w / rng.uniform(290, 420),
            hysteresis_k=rng.uniform(3, 9),
            food_w_k=rng.uniform(0.8, 2.0),
            ambient_c=rng.uniform(17, 26),
        )

    def preheat_s(self, celsius: float) -> float:
        """Return the seconds from cold until the thermostat first switches off."""
        return self._cold().seconds_to(celsius, self.power_w)

    def _cold(self) -> Lump:
        return Lump(self.ambient_c, self.capacity_j_k, self.ua_w_k, self.ambient_c)

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Preheat, then cycle for the baking time; the fan runs throughout."""
        celsius = (
            task.celsius
            if task.celsius is not None
            else rng.choice((160, 180, 200, 220))
        )
        heat_w, fan_w = self.power_w + self.fan_w, self.fan_w
        pieces: Pieces = [(self.preheat_s(celsius), heat_w)]
        minutes = task.minutes if task.minutes is not None else rng.uniform(12, 55)
        air = celsius - rng.uniform(8, 35)  # the door, and the cold tray
        food_c, food_j_k = rng.uniform(8, 20), rng.uniform(800, 4200)
        heating, since = True, 0.0
        low, high = celsius - self.hysteresis_k, celsius + self.hysteresis_k
        door_at = rng.uniform(0.4, 0.9) * minutes * 60 if rng.random() < 0.4 else -1
        step = 1.0
        for second in range(round(minutes * 60)):
            to_food = self.food_w_k * (air - food_c)
            loss = self.ua_w_k * (air - self.ambient_c)
            air += (
                step
                * ((self.power_w if heating else 0.0) - loss - to_food)
                / self.capacity_j_k
            )
            food_c = min(98.0, food_c + step * to_food / food_j_k)
            if second == round(door_at):
                air -= rng.uniform(10, 40)
            since += step
            if (heating and air >= high) or (not heating and air <= low):
                pieces.append((since, heat_w if heating else fan_w))
                heating, since = not heating, 0.0
        pieces.append((since, heat_w if heating else fan_w))
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class Toaster:
    """Wires on a timer."""

    power_w: float
    minutes: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a toaster of that power and how brown its crew likes its toast."""
        return cls(power_w=power_w, minutes=rng.uniform(1.6, 3.6))

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Toast once."""
        minutes = task.minutes if task.minutes is not None else self.minutes
        return [(60 * minutes * rng.uniform(0.92, 1.06), self.power_w)]


@dataclass(frozen=True, slots=True)
class Microwave:
    """A magnetron that knows full power only, over a fan, a lamp and a turntable."""

    power_w: float
    idle_w: float
    lamp_w: float
    period_s: float
    levels: tuple[float, ...]

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a microwave of that input power."""
        return cls(
            power_w=power_w,
            idle_w=rng.uniform(35, 75),
            lamp_w=rng.uniform(12, 28),
            period_s=rng.choice((20.0, 24.0, 28.0, 30.0, 32.0)),
            levels=(
                1.0,
                rng.uniform(0.65, 0.8),
                rng.uniform(0.42, 0.55),
                rng.uniform(0.2, 0.35),
            ),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Heat something, now and then with the door opened once to stir."""
        level = rng.choices(self.levels, (6, 1, 2, 1))[0]
        if task.way == "defrost":
            level = self.levels[3]
        longest = 7 if level > 0.9 else 14
        minutes = task.minutes if task.minutes is not None else rng.uniform(1, longest)
        seconds = 60 * minutes
        spells = [seconds]
        if seconds > 90 and rng.random() < 0.25:
            first = seconds * rng.uniform(0.4, 0.7)
            spells = [first, seconds - first]
        pieces: Pieces = []
        for number, spell in enumerate(spells):
            if number:
                pieces.append((rng.uniform(6, 25), self.lamp_w))
            warm_up = rng.uniform(1.2, 2.6)
            pieces.append((warm_up, self.idle_w))
            if level > 0.9:
                pieces.append((max(5.0, spell - warm_up), self.power_w))
            else:
                pieces += pulses(
                    rng,
                    max(5.0, spell - warm_up),
                    self.power_w,
                    self.idle_w,
                    level,
                    self.period_s,
                    jitter=0.004,
                )
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class Grill:
    """A contact grill: heats, then a bimetal switch cycles it."""

    power_w: float
    on_s: float
    off_s: float
    warm_up_s: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a grill of that power."""
        return cls(
            power_w=power_w,
            on_s=rng.uniform(15, 60),
            off_s=rng.uniform(20, 90),
            warm_up_s=rng.uniform(120, 300),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Warm up, then cycle for the minutes on the plate."""
        minutes = task.minutes if task.minutes is not None else rng.uniform(4, 15)
        period = self.on_s + self.off_s
        cycling = pulses(
            rng, 60 * minutes, self.power_w, 0.0, self.on_s / period, period, jitter=0.1
        )
        pieces: Pieces = [(self.warm_up_s, self.power_w), (self.off_s, 0.0), *cycling]
        return merged(pieces)
