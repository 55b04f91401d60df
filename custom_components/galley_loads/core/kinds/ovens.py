"""What heats in dry air or by microwaves: ovens, toasters."""

from typing import Final

from .behaviour import OFF, Description, Full, Level, Small, State
from .traits import Traits

OVEN: Final = Description(
    name="oven",
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
            duty_cycle=(0.25, 0.75),
        ),
        # One element of several holds the heat, or grills; that may stay on for long.
        "element": State(
            Level(0.25, 0.95),
            (15, 1200),
            {"rest": 0.95, OFF: 0.05},
            holding=True,
            alike=True,
            duty_cycle=(0.35, 0.85),
        ),
    },
    starts={"heat": 0.97, "element": 0.03},
    least_run_s=540.0,
    least_heat_s=200.0,
    run_s=(900, 5400),
    runs_per_day=1.0,
    heat_up_minutes=10.0,
    holding_share=0.35,
    standby_w=2.0,
    traits=Traits(
        icon="mdi:toaster-oven",
        quiet_s=900.0,
        cool_down_s=1800.0,
        longest_minutes=180.0,
        reaches_temperature=True,
        timed=True,
    ),
)

TOASTER: Final = Description(
    name="toaster",
    states={
        "toast": State(Full(), (70, 210), {OFF: 0.85, "reload": 0.15}),
        "reload": State(Small(0, 5), (5, 60), {"toast": 0.95, OFF: 0.05}),
    },
    starts={"toast": 1.0},
    least_run_s=30.0,
    untouched_s=270.0,
    run_s=(70, 400),
    runs_per_day=2.0,
    heat_up_minutes=60.0,
    holding_share=1.0,
    standby_w=0.0,
    traits=Traits(
        icon="mdi:toaster",
        quiet_s=120.0,
        longest_minutes=15.0,
        least_limit_minutes=8.0,
    ),
)

MICROWAVE: Final = Description(
    name="microwave",
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
            duty_cycle=(0.25, 0.75),
        ),
    },
    starts={"full": 0.6, "pulse": 0.23, "wake": 0.14, "part": 0.03},
    untouched_s=900.0,
    run_s=(30, 900),
    runs_per_day=2.0,
    heat_up_minutes=60.0,
    holding_share=1.0,
    standby_w=2.0,
    traits=Traits(
        icon="mdi:microwave",
        quiet_s=120.0,
        longest_minutes=45.0,
        least_limit_minutes=20.0,
    ),
)
