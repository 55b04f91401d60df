"""What heats water, for drinks or to wash with."""

from typing import Final

from .behaviour import OFF, Description, Full, Level, Small, State
from .traits import Traits

KETTLE: Final = Description(
    name="kettle",
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
    untouched_s=750.0,
    run_s=(60, 400),
    runs_per_day=5.0,
    heat_up_minutes=60.0,
    holding_share=1.0,
    standby_w=0.0,
    traits=Traits(
        icon="mdi:kettle",
        quiet_s=600.0,
        hot_drink=True,
        longest_minutes=15.0,
        least_limit_minutes=8.0,
    ),
)

COFFEE_MAKER: Final = Description(
    name="coffee_maker",
    states={
        "brew": State(Full(), (45, 600), {"rest": 0.65, "warm": 0.15, OFF: 0.2}),
        # A plate of its own under the pot, on all the time.
        "warm": State(Level(0.03, 0.12), (600, 7200), {OFF: 1.0}, holding=True),
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
            duty_cycle=(0.04, 0.25),
        ),
        # The plate at a part of its power, which some use as it grows warm.
        "keep low": State(
            Level(0.08, 0.97),
            (2, 60),
            {"rest": 0.97, OFF: 0.03},
            holding=True,
            alike=True,
            duty_cycle=(0.04, 0.35),
        ),
    },
    starts={"brew": 1.0},
    untouched_s=720.0,
    run_s=(180, 4500),
    runs_per_day=2.0,
    heat_up_minutes=6.0,
    holding_share=0.05,
    standby_w=1.0,
    traits=Traits(
        icon="mdi:coffee-maker",
        quiet_s=1800.0,
        quiet_w=12.0,
        longest_minutes=180.0,
        done_when_warm=True,
    ),
)

WATER_HEATER: Final = Description(
    name="water_heater",
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
    traits=Traits(
        icon="mdi:water-boiler",
        quiet_s=3600.0,
        cooking=False,
        hot_water=True,
        longest_minutes=240.0,
    ),
)
