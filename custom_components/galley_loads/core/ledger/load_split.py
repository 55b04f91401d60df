"""How one value of the load is shared among those who claim a part of it.

What is claimed may add up to more than there is: a power drifts, or an appliance was
switched off a moment ago and nobody has understood it yet. The parts never do. First come
appliances with their own meter, then those that are inferred to run, then loads that
nobody named, then standby; what remains is the background.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from ..boat.boat import Boat
from ..inference.model.activity import RunKey, Segment

DRIFT_SHARE: Final = 0.1
"""Powers are known to a tenth: claims that exceed the load by less have only drifted."""


@dataclass(frozen=True, slots=True)
class LoadSplit:
    """The parts of a load, W; they add up to it."""

    runs_w: dict[RunKey, float]
    unnamed_w: float
    standby_w: dict[str, float]
    background_w: float


def split_load(
    boat: Boat, load_w: float, segment: Segment, standby_w: Mapping[str, float]
) -> LoadSplit:
    """Return who gets how much of a load of `load_w` (W, not below zero).

    `segment` has what runs and unnamed loads claim, `standby_w` what idle appliances do.
    """
    metered_w: dict[RunKey, float] = {}
    inferred_w: dict[RunKey, float] = {}
    for activity in segment.activities:
        of_kind = metered_w if boat.has_meter(activity.appliance) else inferred_w
        of_kind[activity.run] = max(0.0, activity.power_w)
    runs_w = _scaled(metered_w, load_w)
    rest_w = max(0.0, load_w - sum(runs_w.values()))
    runs_w |= _without_the_gone(inferred_w, rest_w)
    rest_w = max(0.0, load_w - sum(runs_w.values()))
    unnamed_w = min(max(0.0, segment.unnamed_w), rest_w)
    rest_w -= unnamed_w
    idle_w = _scaled(standby_w, rest_w)
    return LoadSplit(runs_w, unnamed_w, idle_w, max(0.0, rest_w - sum(idle_w.values())))


def _scaled[Key](claims_w: Mapping[Key, float], most_w: float) -> dict[Key, float]:
    """Return claims, all made smaller alike where they are more than there is."""
    total_w = sum(claims_w.values())
    if total_w <= most_w:
        return dict(claims_w)
    return {key: claim_w * most_w / total_w for key, claim_w in claims_w.items()}


def _without_the_gone[Key](
    claims_w: Mapping[Key, float], most_w: float
) -> dict[Key, float]:
    """Return claims without what must have been switched off already.

    Loads go one at a time, and whole: the least draw that is as large as the excess is the
    likeliest to be going. Where the largest is not enough, it has gone, and another with it.
    """
    draws_w = dict(claims_w)
    while True:
        total_w = sum(draws_w.values())
        excess_w = total_w - most_w
        if excess_w <= DRIFT_SHARE * total_w:
            return _scaled(draws_w, most_w)
        enough = [key for key, draw_w in draws_w.items() if draw_w >= excess_w]
        if enough:
            draws_w[min(enough, key=draws_w.__getitem__)] -= excess_w
            return _scaled(draws_w, most_w)
        draws_w[max(draws_w, key=draws_w.__getitem__)] = 0.0
