"""A kind that the catalogue does not have, and its counterpart in the simulator."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
import random
from typing import Final, Self
from unittest.mock import patch

from custom_components.galley_loads.core.kinds.behaviour import (
    OFF,
    Description,
    Full,
    Small,
    State,
)
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.kinds.kind import Kind
from custom_components.galley_loads.core.kinds.traits import MayCut, Traits
from demo.simulator.appliances import MAKES, Make
from demo.simulator.pieces import Pieces
from demo.simulator.task import Task

WAFFLE_IRON: Final = Kind(
    Description(
        name="waffle_iron",
        states={
            "heat": State(Full(), (200, 420), {"rest": 1.0}),
            "rest": State(
                Small(0, 8),
                (30, 60),
                {"cycle": 0.9, OFF: 0.1},
                holding=True,
                alike=True,
            ),
            "cycle": State(Full(), (15, 40), {"rest": 1.0}, holding=True, alike=True),
        },
        starts={"heat": 1.0},
        least_run_s=240.0,
        least_heat_s=120.0,
        run_s=(900, 2400),
        runs_per_day=1.0,
        heat_up_minutes=5.0,
        holding_share=0.35,
        standby_w=3.0,
        traits=Traits(
            icon="mdi:waffle",
            may_cut=MayCut.ONLY_ASKED,
            cool_down_s=25 * 60.0,
            longest_minutes=50.0,
            least_limit_minutes=30.0,
            longest_rest_s=200.0,
            ends_by_itself=True,
            least_done_minutes=10.0,
            reaches_temperature=True,
            timed=True,
        ),
    )
)


@dataclass(frozen=True, slots=True)
class IronPlates:
    """Two plates on a thermostat."""

    power_w: float

    @classmethod
    def draw(cls, rng: random.Random, power_w: float, standby_w: float) -> Self:
        """Draw one of that power."""
        return cls(power_w)

    def pieces(self, rng: random.Random, task: Task) -> Pieces:
        """Heat up for six minutes, then hold for a quarter of an hour."""
        return [(360.0, self.power_w), *((40.0, 0.0), (25.0, self.power_w)) * 14]


@contextmanager
def waffle_iron_known() -> Iterator[Kind]:
    """Let the catalogue and the simulator have the kind."""
    make = Make(("Waffle iron",), IronPlates, (1100, 1300), alone=(1.0, 12.0, 12.5))
    remove = KINDS.add(WAFFLE_IRON)
    try:
        with patch.dict(MAKES, {str(WAFFLE_IRON): make}):
            yield WAFFLE_IRON
    finally:
        remove()
