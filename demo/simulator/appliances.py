"""Appliances: what each kind is made of here, and how one of them is drawn.

Nothing in this folder knows how anybody recognises an appliance: a run is what the heat,
the thermostat and the cook make of it.
"""

from dataclasses import dataclass
import random
from typing import Final, Protocol, Self

from .cookers import BreadMaker, PressureCooker, RiceCooker, SlowCooker
from .hobs import ElectricHob, InductionHob
from .options import SimOptions
from .ovens import Grill, Microwave, Oven, Toaster
from .pieces import Pieces, merged, switch_on, wandering, warming
from .task import Task
from .water import CoffeeMaker, Kettle, WaterBath, WaterHeater


class Model(Protocol):
    """The physics of one appliance."""

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw one of that power."""

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Return one run, from its first draw to its last."""


@dataclass(frozen=True, slots=True)
class Make:
    """What appliances of a kind are like: names, powers W, standby W and how often.

    `alone` is for what is not part of the usual meals: the chance of a run on a day, and
    the hours between which it is switched on.
    """

    names: tuple[str, ...]
    model: type[Model]
    power_w: tuple[float, float]
    standby_w: tuple[float, float] = (0.0, 0.0)
    standby_chance: float = 0.0
    resistive: bool = True
    weight: float = 1.0
    alone: tuple[float, float, float] | None = None


MAKES: Final[dict[str, Make]] = {
    "induction_hob": Make(
        ("Hob",), InductionHob, (1200, 2000), (6, 25), 1.0, resistive=False, weight=6
    ),
    "electric_hob": Make(("Hotplate",), ElectricHob, (850, 1500), weight=1),
    "oven": Make(("Oven",), Oven, (1150, 1850), (1.5, 5), 0.6, weight=3),
    "water_bath": Make(("Water bath",), WaterBath, (750, 1250), (1, 3), 0.3, weight=2),
    "kettle": Make(("Kettle",), Kettle, (950, 2200), (0.5, 1), 0.1, weight=4),
    "toaster": Make(("Toaster",), Toaster, (700, 1150), weight=2),
    "microwave": Make(
        ("Microwave",), Microwave, (950, 1450), (1.5, 4), 0.8, resistive=False, weight=3
    ),
    "rice_cooker": Make(
        ("Rice cooker",), RiceCooker, (320, 720), (1, 2), 0.3, weight=1.5
    ),
    "slow_cooker": Make(
        ("Slow cooker",), SlowCooker, (130, 300), weight=1, alone=(0.3, 10.0, 13.5)
    ),
    "pressure_cooker": Make(
        ("Pressure cooker",), PressureCooker, (700, 1100), (1, 3), 0.6, weight=1.5
    ),
    "bread_maker": Make(
        ("Bread maker",),
        BreadMaker,
        (430, 720),
        (1, 2),
        0.5,
        weight=1,
        alone=(0.35, 8.0, 14.0),
    ),
    "coffee_maker": Make(
        ("Coffee maker",), CoffeeMaker, (650, 1150), (0.8, 2), 0.4, weight=2
    ),
    "water_heater": Make(("Water heater",), WaterHeater, (550, 1500), weight=2.5),
    "other": Make(("Grill",), Grill, (850, 1650), weight=1),
}
"""Every kind that a boat file may name."""


@dataclass(frozen=True, slots=True)
class SimAppliance:
    """One appliance as it truly is; `rated_w` is what its plate says."""

    name: str
    kind: str
    rated_w: float
    power_w: float
    standby_w: float
    resistive: bool
    model: Model
    supply: str = "ac"
    circuit: str | None = None
    ramp_s: float = 0.0
    inrush: float = 1.0
    droop: float = 0.0
    floor_w: float = 80.0

    def run(
        self, rng: random.Random, task: Task, options: SimOptions, drift: float
    ) -> Pieces:
        """Return one run with everything that makes power uneven; `drift` scales it."""
        pieces = self.model.pieces(rng, task)
        while pieces[-1][1] == 0.0:  # a run ends with its last draw
            pieces.pop()
        share = options.wander * (2.0 if self.kind == "induction_hob" else 0.6)
        pieces = wandering(rng, pieces, share, self.floor_w)
        pieces = warming(pieces, self.droop, 90.0, self.floor_w)
        pieces = switch_on(pieces, self.ramp_s, self.inrush, 0.4, self.floor_w)
        if drift:
            pieces = [
                (s, w * (1 + drift) if w > self.floor_w else w) for s, w in pieces
            ]
        return merged(pieces)


def _plate(rng: random.Random, power_w: float, error: float) -> float:
    """Return what a plate says about that true power: rounded, off by up to `error`."""
    rated = power_w / (1 + rng.uniform(-error, error))
    step = 50 if rated >= 400 else 10
    return max(step, step * round(rated / step))


def draw_appliance(
    rng: random.Random, kind: str, options: SimOptions, name: str | None = None
) -> SimAppliance:
    """Draw an appliance of that kind."""
    make = MAKES[kind]
    power_w = rng.uniform(*make.power_w)
    standby_w = 0.0
    if options.standby and rng.random() < make.standby_chance:
        standby_w = round(rng.uniform(*make.standby_w), 2)
    model = make.model.draw(rng, power_w, standby_w)
    ramp_s = rng.uniform(1.5, 8) if options.ramps and rng.random() < 0.6 else 0.0
    inrush = rng.uniform(1.05, 1.5) if options.inrush and rng.random() < 0.6 else 1.0
    return SimAppliance(
        name=name or rng.choice(make.names),
        kind=kind,
        rated_w=_plate(rng, power_w, options.rated_error),
        power_w=power_w,
        standby_w=standby_w,
        resistive=make.resistive,
        model=model,
        ramp_s=ramp_s,
        inrush=inrush if ramp_s == 0 else 1.0,
        droop=rng.uniform(0.2, 1.0)
        * (options.drift + (0.015 if kind == "toaster" else 0.003)),
        floor_w=max(80.0, 0.2 * power_w) if kind != "slow_cooker" else 60.0,
    )


def draw_kinds(rng: random.Random, count: int) -> tuple[str, ...]:
    """Draw `count` different kinds, each boat with something to cook on."""
    left = dict.fromkeys(MAKES, 0.0) | {
        kind: make.weight for kind, make in MAKES.items()
    }
    chosen: list[str] = []
    for _ in range(min(count, len(left))):
        kind = rng.choices(list(left), list(left.values()))[0]
        chosen.append(kind)
        del left[kind]
    if not {"induction_hob", "electric_hob", "oven", "microwave"} & set(chosen):
        chosen[0] = "induction_hob"
    return tuple(chosen)
