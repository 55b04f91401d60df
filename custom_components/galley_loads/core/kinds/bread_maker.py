"""A bread maker: a motor in bursts, a dough that rests, then an oven."""

from typing import Final

from .behaviour import OFF, Description, Full, Small, State
from .traits import MayCut, Traits

BREAD_MAKER: Final = Description(
    name="bread_maker",
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
            duty_cycle=(0.02, 0.15),
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
            duty_cycle=(0.25, 0.6),
        ),
    },
    starts={"stir": 0.5, "knead": 0.4, "warm": 0.1},
    least_run_s=3600.0,
    run_s=(7200, 15000),
    runs_per_day=0.5,
    heat_up_minutes=10.0,
    holding_share=0.3,
    standby_w=1.5,
    traits=Traits(
        # A dough rises for an hour and a half at what the clock draws: no meter shows it.
        may_cut=MayCut.ONLY_ASKED,
        quiet_s=10800.0,
        icon="mdi:bread-slice",
        longest_minutes=360.0,
        longest_rest_s=900.0,
        ends_by_itself=True,
        least_done_minutes=75.0,
    ),
)
