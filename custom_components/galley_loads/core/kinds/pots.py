"""Pots and baths that cook by themselves and hold their heat with little."""

from typing import Final

from .behaviour import OFF, Description, Full, Level, Small, State
from .traits import Traits

RICE_COOKER: Final = Description(
    name="rice_cooker",
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
            duty_cycle=(0.03, 0.25),
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
            (3, 200),
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
    traits=Traits(
        icon="mdi:rice",
        quiet_s=1800.0,
        quiet_w=10.0,
        longest_minutes=360.0,
        ends_by_itself=True,
        least_done_minutes=8.0,
        done_when_warm=True,
    ),
)

SLOW_COOKER: Final = Description(
    name="slow_cooker",
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
            duty_cycle=(0.3, 0.75),
        ),
    },
    starts={"heat": 0.5, "low": 0.3, "cycle": 0.2},
    least_run_s=4500.0,
    least_heat_s=1800.0,
    run_s=(5400, 25000),
    runs_per_day=0.5,
    heat_up_minutes=120.0,
    holding_share=0.6,
    standby_w=1.0,
    traits=Traits(
        icon="mdi:pot-mix",
        quiet_s=2700.0,
        quiet_w=10.0,
        longest_minutes=840.0,
        longest_rest_s=900.0,
        ends_by_itself=True,
        least_done_minutes=90.0,
        timed=True,
    ),
)

PRESSURE_COOKER: Final = Description(
    name="pressure_cooker",
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
            duty_cycle=(0.05, 0.35),
        ),
    },
    starts={"heat": 1.0},
    least_run_s=840.0,
    least_heat_s=540.0,
    run_s=(900, 4500),
    runs_per_day=0.5,
    heat_up_minutes=12.0,
    holding_share=0.15,
    standby_w=2.0,
    traits=Traits(
        icon="mdi:pot",
        quiet_s=3600.0,
        quiet_w=10.0,
        longest_minutes=180.0,
        longest_rest_s=300.0,
        ends_by_itself=True,
        least_done_minutes=6.0,
    ),
)

WATER_BATH: Final = Description(
    name="water_bath",
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
            duty_cycle=(0.03, 0.25),
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
    least_heat_s=420.0,
    run_s=(2400, 12000),
    runs_per_day=0.7,
    heat_up_minutes=25.0,
    holding_share=0.1,
    standby_w=2.0,
    traits=Traits(
        icon="mdi:pot-steam",
        quiet_s=1800.0,
        quiet_w=10.0,
        longest_minutes=1440.0,
        reaches_temperature=True,
        timed=True,
    ),
)
