"""All that a decision about a cut may look at."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..live.live_view import LiveView
from ..metering.load_sample import LoadSample


@dataclass(frozen=True, slots=True)
class CutFacts:
    """The boat at one time, as measured and as inferred.

    `load_age_s` is how long ago the slowest of the sensors behind the load reported last,
    None if one never did; `meter_age_s` is the same for appliances with their own meter,
    by name. `relay_closed` says for each circuit with a relay whether that is closed,
    None where the relay does not say. `standby_w` is what is known of the circuits'
    standby, `floor_w` the smallest step that the load's meter resolves; `likely_w` is what they
    probably draw, by their appliances' kinds where nothing is known. `relay_elsewhere` are the
    circuits whose relay another boat names as well.
    """

    at_s: float
    sample: LoadSample
    live: LiveView
    load_age_s: float | None
    relay_closed: Mapping[str, bool | None]
    meter_age_s: Mapping[str, float | None] = field(default_factory=dict)
    standby_w: Mapping[str, float | None] = field(default_factory=dict)
    floor_w: float = 0.0
    likely_w: Mapping[str, float] = field(default_factory=dict)
    relay_elsewhere: frozenset[str] = frozenset()
