"""Hobs: levels that somebody turns, pulses at the low ones, pans that are lifted."""

from typing import Final

from .behaviour import OFF, Description, Full, Level, Small, State
from .traits import Traits

INDUCTION_HOB: Final = Description(
    name="induction_hob",
    states={
        "level": State(
            Level(0.08, 1.06),
            (20, 500),
            {"level": 0.4, "lifted": 0.12, "gap": 0.17, "dip": 0.05, OFF: 0.26},
            fresh=True,
        ),
        "lifted": State(Small(0, 40), (2, 25), {"back": 0.85, "level": 0.1, OFF: 0.05}),
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
            duty_cycle=(0.12, 0.7),
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
    untouched_s=1560.0,
    run_s=(240, 2700),
    zone_w=2000.0,
    restless_s=500.0,
    runs_per_day=3.0,
    heat_up_minutes=4.0,
    holding_share=0.45,
    standby_w=5.0,
    traits=Traits(
        icon="mdi:stove",
        quiet_s=60.0,
        cool_down_s=600.0,
        longest_minutes=120.0,
        any_power=True,
    ),
)

ELECTRIC_HOB: Final = Description(
    name="electric_hob",
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
            duty_cycle=(0.15, 0.75),
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
            duty_cycle=(0.15, 0.75),
        ),
    },
    starts={"heat": 0.82, "zone": 0.1, "cycle": 0.05, "zone cycle": 0.03},
    run_s=(240, 2700),
    zone_w=2000.0,
    restless_s=1500.0,
    runs_per_day=3.0,
    heat_up_minutes=6.0,
    holding_share=0.5,
    untouched_s=4000.0,
    standby_w=0.0,
    traits=Traits(
        icon="mdi:stove",
        quiet_s=240.0,
        cool_down_s=900.0,
        longest_minutes=120.0,
    ),
)
