"""The boat: what is truly aboard, and what its owner would write down about it."""

from dataclasses import dataclass, replace
import random
from typing import Any

from .appliances import SimAppliance, draw_appliance, draw_kinds
from .description import describe
from .options import SimOptions
from .parts import SimArray, SimBank, SimInverter


@dataclass(frozen=True, slots=True)
class SimBackground:
    """What draws when nobody cooks, W on its own side of the inverter."""

    instruments_w: float
    fridge_w: float
    fridge_on_min: float
    fridge_off_min: float
    lights_w: float
    pump_w: float
    pumps_per_day: float
    ac_base_w: float
    laptop_w: float
    fridge_on_ac: bool


@dataclass(frozen=True, slots=True)
class SimHabits:
    """The crew: local hours of its meals, and how much it likes each sort of cooking."""

    breakfast_h: float
    lunch_h: float
    dinner_h: float
    hot_drinks_per_day: float
    heater_h: float
    fondness: dict[str, float]


@dataclass(frozen=True, slots=True)
class SimBoat:
    """Everything that is true about one boat, with its description for the boat file."""

    description: dict[str, Any]
    appliances: tuple[SimAppliance, ...]
    inverter: SimInverter
    bank: SimBank
    array: SimArray
    background: SimBackground
    habits: SimHabits
    charger_w: float
    battery_positive: str = "charging"

    @property
    def conversion(self) -> float:
        """AC power per DC power as the description has it (0.90 where it is silent)."""
        stated = self.description.get("inverter", {}).get("efficiency")
        return 0.90 if stated is None else float(stated)

    def appliance(self, name: str) -> SimAppliance:
        """Return the appliance of that name; KeyError if there is none."""
        for appliance in self.appliances:
            if appliance.name == name:
                return appliance
        raise KeyError(name)


NAMES = (
    "Sanderling",
    "Turnstone",
    "Dunlin",
    "Whimbrel",
    "Plover",
    "Avocet",
    "Phalarope",
)
"""Shore birds; boats of our own invention."""


def draw_background(rng: random.Random, fridge_on_ac: bool) -> SimBackground:
    """Draw what a boat draws when nobody cooks."""
    return SimBackground(
        instruments_w=rng.uniform(6, 22),
        fridge_w=rng.uniform(75, 120) if fridge_on_ac else rng.uniform(40, 70),
        fridge_on_min=rng.uniform(7, 18),
        fridge_off_min=rng.uniform(12, 35),
        lights_w=rng.uniform(10, 40),
        pump_w=rng.uniform(50, 95),
        pumps_per_day=rng.uniform(10, 30),
        ac_base_w=rng.uniform(3, 28),
        laptop_w=rng.uniform(25, 70),
        fridge_on_ac=fridge_on_ac,
    )


def draw_habits(rng: random.Random, kinds: tuple[str, ...]) -> SimHabits:
    """Draw a crew."""
    return SimHabits(
        breakfast_h=rng.uniform(7.0, 8.8),
        lunch_h=rng.uniform(12.0, 13.7),
        dinner_h=rng.uniform(17.8, 20.2),
        hot_drinks_per_day=rng.uniform(0.7, 2.8),
        heater_h=rng.choice((7.0, 11.5, 14.0, 16.5)) + rng.uniform(-0.5, 0.5),
        fondness={kind: rng.uniform(0.7, 1.4) for kind in kinds},
    )


def random_boat(seed: int, options: SimOptions) -> SimBoat:
    """Draw a boat: every parameter anew for every seed."""
    rng = random.Random(f"boat {seed}")
    kinds = options.kinds or draw_kinds(rng, options.appliances)
    appliances: list[SimAppliance] = []
    for number, kind in enumerate(kinds):
        appliance = draw_appliance(rng, kind, options)
        taken = sum(a.kind == kind for a in appliances)
        if taken:
            appliance = replace(appliance, name=f"{appliance.name} {taken + 1}")
        if number < options.dc_appliances:
            appliance = replace(appliance, supply="dc")
        if options.circuits or options.relays:
            appliance = replace(appliance, circuit=f"Galley {1 + number % 2}")
        appliances.append(appliance)
    biggest = max(a.power_w for a in appliances)
    limit_w = rng.choice(
        [w for w in (2000.0, 2500.0, 3000.0, 3500.0) if w > 1.15 * biggest]
    )
    inverter = SimInverter(
        limit_w=limit_w,
        idle_w=rng.uniform(9, 26),
        loss_share=rng.uniform(0.045, 0.085),
        loss_square=rng.uniform(0.01, 0.035) / limit_w,
    )
    cells = rng.choice((4, 4, 8))
    reserve_soc = float(rng.choice((20, 25, 30, 35)))
    bank = SimBank(
        capacity_ah=float(rng.choice((400, 460, 560, 600, 800)) * 4 // cells),
        cells=cells,
        ohm=rng.uniform(0.9e-3, 2.2e-3) * cells / 4,
        reserve_soc=reserve_soc,
        start_soc=rng.uniform(55, 90),
        engine_soc=reserve_soc + 12,
    )
    array = SimArray(
        array_w=float(rng.choice((420, 540, 640, 800, 1000))),
        yield_share=rng.uniform(0.72, 0.9),
        shade_below_deg=rng.uniform(8, 25),
        shade_share=rng.uniform(0.2, 0.7),
    )
    as_power = options.battery_as_power
    if as_power is None:
        as_power = rng.random() < 0.5
    positive = rng.choice(("charging", "charging", "discharging"))
    charger_w = rng.choice((0.0, 600.0, 900.0, 1300.0)) or 900.0
    rounded = tuple(appliances)
    return SimBoat(
        description=describe(
            rng.choice(NAMES),
            options,
            rounded,
            inverter,
            bank,
            array,
            battery_as_power=as_power,
            battery_positive=positive,
            charger_w=charger_w,
            mains_v=rng.choice((120, 230)),
        ),
        appliances=rounded,
        inverter=inverter,
        bank=bank,
        array=array,
        background=draw_background(rng, options.fridge_on_ac),
        habits=draw_habits(rng, tuple(kinds)),
        charger_w=charger_w,
        battery_positive=positive,
    )
