"""Things that heat water: kettle, water bath, coffee maker, water heater."""

from dataclasses import dataclass
import random
from typing import Self

from .pieces import Pieces, merged, pulses
from .task import Task
from .thermal import BATH_J_LITRE_K, WATER_J_KG_K, Lump


@dataclass(frozen=True, slots=True)
class Kettle:
    """An element in water, a body that warms with it, and a steam switch."""

    power_w: float
    body_j_k: float
    ua_w_k: float
    steam_switch_s: float
    water_c: float = 18.0
    ambient_c: float = 20.0

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a kettle of that power."""
        return cls(
            power_w=power_w,
            body_j_k=rng.uniform(150, 420),
            ua_w_k=rng.uniform(0.5, 1.4),
            steam_switch_s=rng.uniform(3, 16),
            water_c=rng.uniform(14, 24),
            ambient_c=rng.uniform(17, 26),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Bring the water to the boil; one rectangle."""
        litres = task.litres if task.litres is not None else rng.uniform(0.35, 1.5)
        water = Lump(
            self.water_c,
            litres * WATER_J_KG_K + self.body_j_k,
            self.ua_w_k,
            self.ambient_c,
        )
        boil_s = water.seconds_to(100.0, self.power_w)
        return [(boil_s + self.steam_switch_s * rng.uniform(0.8, 1.2), self.power_w)]


@dataclass(frozen=True, slots=True)
class WaterBath:
    """An immersion heater with a circulator: full power, taper, then pulses.

    Within `band_k` of its goal the controller asks for holding power plus a share that
    falls with what is left; `period_s` is the length of its pulses, 0 where it can
    throttle the element smoothly.
    """

    power_w: float
    pump_w: float
    litres: float
    ua_w_k: float
    band_k: float
    period_s: float
    start_c: float = 20.0
    ambient_c: float = 20.0

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a bath of that whole power, circulator included."""
        pump_w = rng.uniform(8, 30)
        return cls(
            power_w=power_w - pump_w,
            pump_w=pump_w,
            litres=rng.uniform(4, 12),
            ua_w_k=rng.uniform(0.8, 3.0),
            band_k=rng.uniform(0.5, 3.0),
            period_s=rng.choice((0.0, 2.0, 5.0, 10.0, 20.0, 40.0)),
            start_c=rng.uniform(16, 28),
            ambient_c=rng.uniform(17, 26),
        )

    def cold(self) -> Lump:
        """Return the bath before it is switched on."""
        return Lump(
            self.start_c, self.litres * BATH_J_LITRE_K, self.ua_w_k, self.ambient_c
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Heat to the goal, put the food in, and hold."""
        goal = task.celsius if task.celsius is not None else rng.uniform(54, 68)
        hold_s = 60 * (
            task.minutes if task.minutes is not None else rng.uniform(40, 150)
        )
        bath = self.cold()
        heat_s = bath.seconds_to(goal - self.band_k, self.power_w)
        pieces: Pieces = [(heat_s, self.power_w + self.pump_w)]
        bath = bath.after(heat_s, self.power_w)
        food_at = rng.uniform(60, 600)
        food_k = rng.uniform(0.4, 2.0)
        elapsed, smooth = 0.0, self.period_s == 0
        period = 12.0 if smooth else self.period_s
        while elapsed < hold_s:
            ask = bath.ua_w_k * (goal - bath.ambient_c)
            ask += self.power_w * (goal - bath.celsius) / self.band_k
            share = min(1.0, max(0.0, ask / self.power_w))
            span = min(hold_s - elapsed, period * rng.gauss(1, 0.01))
            if smooth:
                pieces.append((span, self.power_w * share + self.pump_w))
            else:
                pieces.append((span * share, self.power_w + self.pump_w))
                pieces.append((span * (1 - share), self.pump_w))
            bath = bath.after(span, self.power_w * share)
            if elapsed < food_at <= elapsed + span:
                bath = Lump(
                    bath.celsius - food_k,
                    bath.capacity_j_k,
                    bath.ua_w_k,
                    bath.ambient_c,
                )
            elapsed += span
        return merged(pieces)


@dataclass(frozen=True, slots=True)
class CoffeeMaker:
    """Water through a hot tube, then a plate under the pot on a thermostat."""

    power_w: float
    plate_on_s: float
    plate_off_s: float
    ready_s: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a coffee maker of that power."""
        return cls(
            power_w=power_w,
            plate_on_s=rng.uniform(8, 40),
            plate_off_s=rng.uniform(50, 420),
            ready_s=rng.uniform(15, 90),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Brew, then keep the pot warm until somebody switches it off."""
        litres = task.litres if task.litres is not None else rng.uniform(0.3, 1.0)
        brew_s = litres * WATER_J_KG_K * rng.uniform(72, 78) / (0.88 * self.power_w)
        pieces: Pieces = [(brew_s, self.power_w)]
        if rng.random() < 0.5:  # the tube runs dry and its switch opens and closes
            pieces += [(rng.uniform(8, 25), 0.0), (rng.uniform(5, 15), self.power_w)]
        keep = task.keep_warm_minutes
        left = 60 * (keep if keep is not None else rng.choice((4, 15, 25, 40, 60)))
        off_s = self.ready_s + self.plate_off_s * rng.uniform(0.9, 1.3)
        while left > 0:
            pieces.append((min(off_s, left), 0.0))
            left -= off_s
            on_s = self.plate_on_s * rng.uniform(0.85, 1.15)
            if left > 0:
                pieces.append((min(on_s, left), self.power_w))
                left -= on_s
            off_s = self.plate_off_s * rng.uniform(0.85, 1.15)
        return pieces


@dataclass(frozen=True, slots=True)
class WaterHeater:
    """A tank with a thermostat; one pass from switch-on to warm is one run."""

    power_w: float
    litres: float
    ua_w_k: float
    goal_c: float
    ambient_c: float = 20.0

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw a tank with an element of that power."""
        return cls(
            power_w=power_w,
            litres=rng.uniform(10, 25),
            ua_w_k=rng.uniform(0.6, 1.6),
            goal_c=rng.uniform(48, 62),
            ambient_c=rng.uniform(17, 26),
        )

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Warm the tank from wherever the showers left it."""
        celsius = task.celsius if task.celsius is not None else rng.uniform(24, 44)
        tank = Lump(celsius, self.litres * BATH_J_LITRE_K, self.ua_w_k, self.ambient_c)
        seconds = tank.seconds_to(self.goal_c, self.power_w)
        if task.minutes is not None:
            seconds = min(seconds, 60 * task.minutes)
        return [(seconds, self.power_w)]


def keep_warm(
    rng: random.Random, seconds: float, watts: float, on_w: float, period_s: float
) -> Pieces:
    """Keep something warm at a mean of `watts`: steadily, or in pulses of `on_w`."""
    if period_s <= 0:
        return [(seconds, watts)]
    held = pulses(rng, seconds, on_w, 0.0, watts / on_w, period_s, jitter=0.08)
    return [piece for piece in held if piece[0] > 0]
