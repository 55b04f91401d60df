"""Loads that nobody named: how they behave, and how often they run on this boat.

They may draw anything, and are on for any time. Most are one rectangle; some come and go
at one power, as a tool does in a busy hand.

One boat has none, the next a laptop, a pump and a vacuum cleaner. The rate is learnt from
what was settled (a gamma law worth `PRIOR_DAYS` days), old days fading.
"""

from typing import Final

from ...kinds.behaviour import OFF, Description, Level, Small, State
from ...kinds.traits import Traits
from .hypothesis import UNNAMED, PastStep

LOW_W: Final = 110.0
"""Judgement, W: what draws less belongs to the base load."""
HIGH_W: Final = 4000.0
"""Judgement, W: nothing that nobody named draws more."""
DESCRIPTION: Final = Description(
    states={
        "on": State(Level(LOW_W, HIGH_W), (20, 5400), {OFF: 0.99, "rest": 0.01}),
        "rest": State(Small(0, 4), (2, 150), {"again": 0.9, OFF: 0.1}, alike=True),
        "again": State(
            Level(LOW_W, HIGH_W),
            (2, 200),
            {"rest": 0.9, OFF: 0.1},
            like="on",
            alike=True,
        ),
    },
    starts={"on": 1.0},
    run_s=(20, 7200),
    restless_s=120.0,
    runs_per_day=1.5,
    heat_up_minutes=0.0,
    holding_share=1.0,
    traits=Traits(cooking=False),
)
"""Common practice, no source."""

PRIOR_PER_DAY: Final = DESCRIPTION.runs_per_day
PRIOR_DAYS: Final = 2.0
"""Judgement, days: how much of the boat's own days the rate of an unknown boat is
worth."""
MEMORY_DAYS: Final = 14.0
"""Judgement, days: time after which what was seen fades."""
DAY_S: Final = 86400.0
"""Definition: the seconds of a day."""


type UnnamedRateState = tuple[float, float, float]
"""What `UnnamedRate` saves: runs, days and when the last began."""


class UnnamedRate:
    """Counts unnamed runs that were settled."""

    def __init__(self) -> None:
        """Know nothing of the boat yet."""
        self._runs = 0.0
        self._days = 0.0
        self._last_start_s = -DAY_S

    @property
    def per_s(self) -> float:
        """Expected starts of unnamed loads per second."""
        runs = PRIOR_PER_DAY * PRIOR_DAYS + self._runs
        return runs / (PRIOR_DAYS + self._days) / DAY_S

    def add(self, final: list[PastStep]) -> None:
        """Take past steps that became final, in order."""
        for past_step in final:
            self._days += (past_step.end_s - past_step.start_s) / DAY_S
            for load in past_step.loads:
                if load.index == UNNAMED and load.run_start_s > self._last_start_s:
                    self._last_start_s = load.run_start_s
                    self._runs += 1.0
        if self._days > MEMORY_DAYS:
            share = MEMORY_DAYS / self._days
            self._days *= share
            self._runs *= share

    def snapshot(self) -> UnnamedRateState:
        """Return the whole state, JSON-able."""
        return self._runs, self._days, self._last_start_s

    def restore(self, state: UnnamedRateState) -> None:
        """Take over what `snapshot` gave."""
        self._runs, self._days, self._last_start_s = state
