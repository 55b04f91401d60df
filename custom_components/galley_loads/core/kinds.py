"""Kinds of appliance: how each behaves.

A kind is a description, nothing else: the states that an appliance of that kind goes
through, how much of its rated power it draws in each, how long it usually stays and what
may follow. Inference, meals, dishes and standby all read these entries. To add a kind,
add a member to `Kind` and an entry to `DESCRIPTIONS`; no other code knows kinds by name.

Dwell ranges hold eight of ten stays (10th to 90th percentile). Where no source stands
beside a number it is common practice, no source: what such appliances are seen to do.
Shapes need not be exact, they only have to differ.
"""

from enum import StrEnum
from typing import Final

from .behaviour import OFF, Description, Full, Level, Small, State


class Kind(StrEnum):
    """The kinds a boat file may name."""

    INDUCTION_HOB = "induction_hob"
    ELECTRIC_HOB = "electric_hob"
    OVEN = "oven"
    WATER_BATH = "water_bath"
    KETTLE = "kettle"
    TOASTER = "toaster"
    MICROWAVE = "microwave"
    RICE_COOKER = "rice_cooker"
    SLOW_COOKER = "slow_cooker"
    PRESSURE_COOKER = "pressure_cooker"
    BREAD_MAKER = "bread_maker"
    COFFEE_MAKER = "coffee_maker"
    WATER_HEATER = "water_heater"
    OTHER = "other"

    @property
    def is_cooking(self) -> bool:
        """Whether a run of this kind belongs to a meal."""
        return DESCRIPTIONS[self].cooking

    @property
    def is_hot_water(self) -> bool:
        """Whether this kind heats water to wash with: never part of a meal."""
        return DESCRIPTIONS[self].hot_water

    @property
    def is_hot_drink(self) -> bool:
        """Whether a run of this kind alone is called a hot drink rather than a meal."""
        return DESCRIPTIONS[self].hot_drink

    @property
    def default_standby_w(self) -> float:
        """What a live, idle appliance of this kind draws where nobody knows better, W."""
        return DESCRIPTIONS[self].standby_w

    @property
    def typical_power_share(self) -> float:
        """Mean draw while in use as a share of the rated power."""
        return DESCRIPTIONS[self].typical_share

    def typical_energy_wh(self, rated_power_w: float, minutes: float) -> float:
        """Energy that `minutes` of use are expected to take, Wh.

        The heat-up at full power comes first, the kind's holding share follows.
        """
        description = DESCRIPTIONS[self]
        heating = min(minutes, description.heat_up_minutes)
        holding = minutes - heating
        share_minutes = heating + holding * description.holding_share
        return rated_power_w * share_minutes / 60.0


DESCRIPTIONS: Final[dict[Kind, Description]] = {
    Kind.KETTLE: Description(
        # One rectangle; 1 kg of water from 15 °C takes about 100 Wh. A few keep it hot: what
        # it loses then is a twentieth of what boils it, so the pauses are long.
        states={
            "boil": State(Full(), (60, 400), {OFF: 0.98, "rest": 0.02}),
            "rest": State(
                Small(0, 5),
                (60, 300),
                {"keep": 0.88, OFF: 0.12},
                holding=True,
                alike=True,
            ),
            "keep": State(
                Full(), (3, 12), {"rest": 0.95, OFF: 0.05}, holding=True, alike=True
            ),
        },
        starts={"boil": 1.0},
        run_s=(60, 400),
        runs_per_day=5.0,
        heat_up_minutes=60.0,
        holding_share=1.0,
        standby_w=0.0,
        hot_drink=True,
    ),
    Kind.TOASTER: Description(
        states={
            "toast": State(Full(), (70, 210), {OFF: 0.85, "reload": 0.15}),
            "reload": State(Small(0, 5), (5, 60), {"toast": 0.95, OFF: 0.05}),
        },
        starts={"toast": 1.0},
        least_run_s=30.0,
        run_s=(70, 400),
        runs_per_day=2.0,
        heat_up_minutes=60.0,
        holding_share=1.0,
        standby_w=0.0,
    ),
    Kind.MICROWAVE: Description(
        states={
            "full": State(Full(), (30, 600), {OFF: 0.75, "rest": 0.25}),
            # An inverter's part power is steady.
            "part": State(Level(0.25, 0.95), (30, 600), {OFF: 0.8, "rest": 0.2}),
            "wake": State(Small(15, 260), (1, 8), {"full": 0.6, "pulse": 0.4}),
            "rest": State(
                Small(5, 150),
                (4, 26),
                {"pulse": 0.85, OFF: 0.15},
                holding=True,
                alike=True,
            ),
            "pulse": State(
                Full(),
                (4, 26),
                {"rest": 0.85, OFF: 0.15},
                holding=True,
                alike=True,
                share=(0.25, 0.75),
            ),
        },
        starts={"full": 0.6, "pulse": 0.23, "wake": 0.14, "part": 0.03},
        run_s=(30, 900),
        runs_per_day=2.0,
        heat_up_minutes=60.0,
        holding_share=1.0,
        standby_w=2.0,
    ),
    Kind.OVEN: Description(
        states={
            "heat": State(Full(), (180, 1200), {"rest": 0.88, OFF: 0.12}),
            "rest": State(
                Small(0, 90),
                (25, 300),
                {"cycle": 0.58, "element": 0.3, OFF: 0.12},
                holding=True,
                alike=True,
            ),
            "cycle": State(
                Full(),
                (15, 240),
                {"rest": 0.95, OFF: 0.05},
                holding=True,
                alike=True,
                share=(0.25, 0.75),
            ),
            # One element of several holds the heat, or grills; that may stay on for long.
            "element": State(
                Level(0.25, 0.95),
                (15, 1200),
                {"rest": 0.95, OFF: 0.05},
                holding=True,
                alike=True,
                share=(0.35, 0.85),
            ),
        },
        starts={"heat": 0.97, "element": 0.03},
        least_run_s=540.0,
        run_s=(900, 5400),
        runs_per_day=1.0,
        heat_up_minutes=10.0,
        holding_share=0.35,
        standby_w=2.0,
    ),
    Kind.WATER_BATH: Description(
        states={
            "heat": State(
                Full(),
                (500, 3600),
                {"taper": 0.42, "rest": 0.4, "dip": 0.13, OFF: 0.05},
            ),
            # A controller that throttles: it slides down to what holds the goal.
            "taper": State(
                Level(0.02, 1.02),
                (40, 5400),
                {"taper": 0.05, "rest": 0.3, "pulse": 0.1, "part": 0.1, OFF: 0.45},
                holding=True,
                fresh=True,
                fades=True,
            ),
            # One that pulses, its pump running on.
            "rest": State(
                Small(0, 40),
                (2, 300),
                {"pulse": 0.75, "part": 0.23, OFF: 0.02},
                holding=True,
                alike=True,
            ),
            "pulse": State(
                Full(),
                (1, 60),
                {"rest": 0.8, "dip": 0.19, OFF: 0.01},
                holding=True,
                alike=True,
                share=(0.03, 0.25),
            ),
            # A pulse at part of the power.
            "part": State(
                Level(0.1, 0.97),
                (1, 60),
                {"rest": 0.7, "dip": 0.28, OFF: 0.02},
                holding=True,
                alike=True,
            ),
            # Pulses faster than the meter show as two levels in turn.
            "dip": State(
                Level(0.03, 0.9),
                (1, 10),
                {"part": 0.7, "pulse": 0.29, OFF: 0.01},
                holding=True,
            ),
        },
        starts={"heat": 1.0},
        least_run_s=1200.0,
        run_s=(2400, 12000),
        runs_per_day=0.7,
        heat_up_minutes=25.0,
        holding_share=0.1,
        standby_w=2.0,
    ),
    Kind.INDUCTION_HOB: Description(
        states={
            "level": State(
                Level(0.08, 1.06),
                (20, 500),
                {"level": 0.4, "lifted": 0.12, "gap": 0.17, "dip": 0.05, OFF: 0.26},
                fresh=True,
            ),
            "lifted": State(
                Small(0, 40), (2, 25), {"back": 0.85, "level": 0.1, OFF: 0.05}
            ),
            "back": State(
                Level(0.08, 1.06),
                (20, 500),
                {"level": 0.4, "lifted": 0.12, "gap": 0.17, "dip": 0.05, OFF: 0.26},
                like="level",
            ),
            "gap": State(
                Small(0, 40),
                (1, 14),
                {"pulse": 0.97, OFF: 0.03},
                holding=True,
                alike=True,
            ),
            "pulse": State(
                Level(0.08, 1.0),
                (1, 14),
                {"gap": 0.6, "dip": 0.35, "level": 0.03, OFF: 0.02},
                holding=True,
                alike=True,
                share=(0.12, 0.7),
            ),
            # A pause shorter than the meter's own averaging never shows its depth.
            "dip": State(
                Level(0.03, 0.75),
                (1, 10),
                {"pulse": 0.97, "level": 0.02, OFF: 0.01},
                holding=True,
            ),
        },
        starts={"level": 0.9, "pulse": 0.1},
        least_run_s=25.0,
        run_s=(240, 2700),
        zone_w=2000.0,
        restless_s=500.0,
        runs_per_day=3.0,
        heat_up_minutes=4.0,
        holding_share=0.45,
        standby_w=5.0,
    ),
    Kind.ELECTRIC_HOB: Description(
        states={
            "heat": State(Full(), (60, 900), {"rest": 0.5, "zone": 0.05, OFF: 0.45}),
            "rest": State(
                Small(0, 20),
                (4, 90),
                {"cycle": 0.92, OFF: 0.08},
                holding=True,
                alike=True,
            ),
            "cycle": State(
                Full(),
                (4, 90),
                {"rest": 0.92, OFF: 0.08},
                holding=True,
                alike=True,
                share=(0.15, 0.75),
            ),
            # Another plate than the largest, or several of them.
            "zone": State(
                Level(0.2, 1.05),
                (60, 900),
                {"zone": 0.2, "heat": 0.05, "zone rest": 0.15, OFF: 0.6},
                fresh=True,
            ),
            "zone rest": State(
                Small(0, 20),
                (4, 90),
                {"zone cycle": 0.92, OFF: 0.08},
                holding=True,
                alike=True,
            ),
            "zone cycle": State(
                Level(0.2, 1.05),
                (4, 90),
                {"zone rest": 0.92, OFF: 0.08},
                like="zone",
                holding=True,
                alike=True,
                share=(0.15, 0.75),
            ),
        },
        starts={"heat": 0.82, "zone": 0.1, "cycle": 0.05, "zone cycle": 0.03},
        run_s=(240, 2700),
        zone_w=2000.0,
        restless_s=1500.0,
        runs_per_day=3.0,
        heat_up_minutes=6.0,
        holding_share=0.5,
        standby_w=0.0,
    ),
    Kind.RICE_COOKER: Description(
        states={
            # The rice soaks lukewarm before it is cooked, in some.
            "soak": State(Full(), (3, 60), {"soaking": 1.0}, holding=True, alike=True),
            "soaking": State(
                Small(0, 15),
                (8, 150),
                {"soak": 0.88, "cook": 0.12},
                holding=True,
                alike=True,
            ),
            "cook": State(Full(), (400, 2400), {"warm": 0.5, "rest": 0.4, OFF: 0.1}),
            "warm": State(
                Level(0.03, 0.2), (300, 7200), {OFF: 0.8, "reheat": 0.2}, holding=True
            ),
            "reheat": State(
                Full(),
                (2, 60),
                {"rest": 0.8, "warm": 0.15, OFF: 0.05},
                holding=True,
                alike=True,
                share=(0.03, 0.25),
            ),
            "rest": State(
                Small(0, 15),
                (10, 300),
                {"reheat": 0.5, "keep": 0.45, OFF: 0.05},
                holding=True,
                alike=True,
            ),
            # A heater of its own that keeps warm in pulses.
            "keep": State(
                Level(0.03, 0.7),
                (3, 90),
                {"rest": 0.96, OFF: 0.04},
                holding=True,
                alike=True,
            ),
        },
        starts={"cook": 0.85, "soak": 0.15},
        least_run_s=300.0,
        run_s=(900, 5400),
        runs_per_day=0.8,
        heat_up_minutes=20.0,
        holding_share=0.08,
        standby_w=1.0,
    ),
    Kind.SLOW_COOKER: Description(
        states={
            "heat": State(
                Full(), (600, 18000), {"low": 0.35, "rest": 0.3, "warm": 0.1, OFF: 0.25}
            ),
            "warm": State(Level(0.08, 0.35), (1200, 15000), {OFF: 1.0}, holding=True),
            "low": State(
                Level(0.3, 0.8),
                (1800, 18000),
                {OFF: 0.7, "rest": 0.2, "warm": 0.1},
                holding=True,
            ),
            "rest": State(
                Small(0, 10),
                (8, 600),
                {"cycle": 0.95, OFF: 0.05},
                holding=True,
                alike=True,
            ),
            "cycle": State(
                Full(),
                (8, 600),
                {"rest": 0.97, OFF: 0.03},
                holding=True,
                alike=True,
                share=(0.3, 0.75),
            ),
        },
        starts={"heat": 0.5, "low": 0.3, "cycle": 0.2},
        least_run_s=4500.0,
        run_s=(5400, 25000),
        runs_per_day=0.5,
        heat_up_minutes=120.0,
        holding_share=0.6,
        standby_w=1.0,
    ),
    Kind.PRESSURE_COOKER: Description(
        states={
            "heat": State(Full(), (300, 1500), {"rest": 0.88, OFF: 0.12}),
            "rest": State(
                Small(0, 15),
                (8, 150),
                {"pulse": 0.88, "heat": 0.03, "relief": 0.02, OFF: 0.07},
                holding=True,
                alike=True,
            ),
            # The pressure falls by itself before the dish is kept warm.
            "relief": State(
                Small(0, 15), (200, 1500), {"pulse": 0.7, OFF: 0.3}, holding=True
            ),
            "pulse": State(
                Full(),
                (2, 40),
                {"rest": 0.95, OFF: 0.05},
                holding=True,
                alike=True,
                share=(0.05, 0.35),
            ),
        },
        starts={"heat": 1.0},
        least_run_s=840.0,
        run_s=(900, 4500),
        runs_per_day=0.5,
        heat_up_minutes=12.0,
        holding_share=0.15,
        standby_w=2.0,
    ),
    Kind.BREAD_MAKER: Description(
        states={
            "stir": State(
                Small(45, 350), (1, 40), {"still": 0.9, "knead": 0.1}, alike=True
            ),
            "still": State(
                Small(0, 9),
                (1, 40),
                {"stir": 0.85, "knead": 0.1, "prove": 0.05},
                alike=True,
            ),
            "knead": State(
                Small(45, 350), (40, 1200), {"prove": 0.6, "knead": 0.2, "warm": 0.2}
            ),
            "prove": State(
                Small(0, 9),
                (60, 2400),
                {"knead": 0.15, "stir": 0.1, "warm": 0.6, "bake": 0.15},
                holding=True,
            ),
            # The proving dough is kept warm in pulses.
            "warm": State(
                Full(),
                (2, 60),
                {"temper": 0.9, "prove": 0.05, "bake": 0.05},
                holding=True,
                alike=True,
                share=(0.02, 0.15),
            ),
            "temper": State(
                Small(0, 9),
                (15, 600),
                {"warm": 0.9, "knead": 0.03, "stir": 0.03, "bake": 0.04},
                holding=True,
                alike=True,
            ),
            "bake": State(Full(), (60, 1200), {"rest": 0.95, OFF: 0.05}),
            "rest": State(
                Small(0, 9),
                (10, 200),
                {"cycle": 0.93, OFF: 0.07},
                holding=True,
                alike=True,
            ),
            "cycle": State(
                Full(),
                (10, 200),
                {"rest": 0.95, OFF: 0.05},
                holding=True,
                alike=True,
                share=(0.25, 0.6),
            ),
        },
        starts={"stir": 0.5, "knead": 0.4, "warm": 0.1},
        least_run_s=3600.0,
        run_s=(7200, 15000),
        runs_per_day=0.5,
        heat_up_minutes=10.0,
        holding_share=0.3,
        standby_w=1.5,
    ),
    Kind.COFFEE_MAKER: Description(
        states={
            "brew": State(Full(), (45, 600), {"rest": 0.8, OFF: 0.2}),
            "rest": State(
                Small(0, 10),
                (15, 700),
                {"keep": 0.62, "keep low": 0.33, OFF: 0.05},
                holding=True,
                alike=True,
            ),
            # The brewing heater, now and then for a moment.
            "keep": State(
                Full(),
                (3, 60),
                {"rest": 0.97, OFF: 0.03},
                holding=True,
                alike=True,
                share=(0.04, 0.25),
            ),
            # The plate at a part of its power, which some use as it grows warm.
            "keep low": State(
                Level(0.08, 0.97),
                (2, 60),
                {"rest": 0.97, OFF: 0.03},
                holding=True,
                alike=True,
                share=(0.04, 0.35),
            ),
        },
        starts={"brew": 1.0},
        run_s=(180, 4500),
        runs_per_day=2.0,
        heat_up_minutes=6.0,
        holding_share=0.05,
        standby_w=1.0,
    ),
    Kind.WATER_HEATER: Description(
        states={
            "heat": State(Full(), (350, 6000), {OFF: 0.9, "rest": 0.1}),
            # A thermostat that keeps the tank hot.
            "rest": State(
                Small(0, 6),
                (200, 2400),
                {"reheat": 0.75, OFF: 0.25},
                holding=True,
                alike=True,
            ),
            "reheat": State(
                Full(), (90, 900), {"rest": 0.7, OFF: 0.3}, holding=True, alike=True
            ),
        },
        starts={"heat": 1.0},
        least_run_s=180.0,
        run_s=(350, 6000),
        runs_per_day=3.0,
        heat_up_minutes=600.0,
        holding_share=1.0,
        standby_w=0.0,
        cooking=False,
        hot_water=True,
    ),
    Kind.OTHER: Description(
        # Something that heats now and then; what it does between is not seen.
        states={
            "on": State(Full(), (30, 5000), {OFF: 0.4, "rest": 0.6}),
            "rest": State(
                Small(0, 150),
                (12, 3600),
                {"cycle": 0.85, OFF: 0.15},
                holding=True,
                alike=True,
            ),
            "cycle": State(
                Full(), (12, 900), {OFF: 0.2, "rest": 0.8}, holding=True, alike=True
            ),
        },
        starts={"on": 1.0},
        run_s=(120, 14000),
        runs_per_day=1.0,
        heat_up_minutes=600.0,
        holding_share=1.0,
        standby_w=1.0,
    ),
}
