"""What no other kind describes."""

from typing import Final

from .behaviour import OFF, Description, Full, Small, State
from .traits import MayCut, Traits

OTHER: Final = Description(
    name="other",
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
    traits=Traits(
        icon="mdi:power-plug",
        may_cut=MayCut.NEVER,
        never_cut_because="not_galley",
        longest_minutes=360.0,
    ),
)
