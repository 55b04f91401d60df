"""What an engine knows between two turns of work, frozen: who reads an engine reads this."""

from collections.abc import Mapping
from dataclasses import dataclass

from .inference.learning.learned_power import LearnedPower
from .live.live_view import LiveView
from .metering.load_sample import LoadSample
from .standby.standby_learner import StandbyFigure


@dataclass(frozen=True, slots=True)
class EngineView:
    """One moment of an engine; it stays as it is while the engine works on.

    `live` is the present as explained so far and `sample` the newest sample, None before
    the first. Up to `settled_until_s` (Unix time) everything is accounted for; None before
    the first settling. `learned` are powers learnt from use, by appliance. Standby is in W:
    of each appliance and each circuit, None where it is not known; `likely_standby_w` is
    what a circuit probably draws, which is no figure to quote. `load_floor_w` is the
    smallest step that the boat's load shows, W.
    """

    live: LiveView | None
    sample: LoadSample | None
    settled_until_s: float | None
    learned: Mapping[str, LearnedPower]
    standby_w: Mapping[str, float | None]
    circuit_standby: Mapping[str, StandbyFigure | None]
    likely_standby_w: Mapping[str, float]
    load_floor_w: float

    @property
    def latest_s(self) -> float | None:
        """The time of the newest sample; None before the first."""
        return None if self.sample is None else self.sample.at_s
