"""What the rules look at."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..live.live_view import LiveView
from .night import NightOutlook


@dataclass(frozen=True, slots=True)
class Facts:
    """One moment of the boat, for every rule alike.

    `discharge_a` is the current out of the bank (negative while charging). `night` is how
    the charge is expected to go until dawn. `expected_ah` is what a planned dish was
    expected to take at the bank, for the meal in progress. `idle_since_s` tells since when
    circuits have been idle, `standby_w` what is known of their standby.
    """

    at_s: float
    live: LiveView
    discharge_a: float | None = None
    night: NightOutlook | None = None
    expected_ah: float | None = None
    idle_since_s: Mapping[str, float | None] = field(default_factory=dict)
    standby_w: Mapping[str, float | None] = field(default_factory=dict)
