"""Appliances with their own meter: nothing is inferred, runs are read off."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Final, NamedTuple, TypedDict

from ..boat.boat import Appliance
from ..kinds.behaviour import OFF, Small
from ..stateful import Row, from_row, row
from .model.activity import Activity, Phase, Segment

ON_SHARE: Final = 0.02
"""Judgement, a share of the rating: an appliance that draws more is in use."""
LEAST_ON_W: Final = 8.0
"""Judgement, W: an appliance that draws less is not in use."""


class Stretch(NamedTuple):
    """What one meter said over a stretch; `run_start_s` is None outside of a run."""

    start_s: float
    power_w: float
    run_start_s: float | None
    phase: Phase


class MeteredApplianceState(TypedDict):
    """What `MeteredAppliance` saves."""

    power_w: float | None
    run_start_s: float | None
    off_since_s: float | None
    stretches: list[Row]


class MeteredAppliance:
    """Runs of one appliance by its own meter."""

    __slots__ = ("_off_since_s", "_power_w", "_run_start_s", "appliance", "stretches")

    def __init__(self, appliance: Appliance) -> None:
        """Start idle."""
        self.appliance = appliance
        self.stretches: list[Stretch] = []
        self._power_w: float | None = None
        self._run_start_s: float | None = None
        self._off_since_s: float | None = None

    def anew(self) -> MeteredAppliance:
        """Return one of the same appliance that is idle."""
        return MeteredAppliance(self.appliance)

    @property
    def power_w(self) -> float:
        """Draw now, 0 where it is not known."""
        return self._power_w or 0.0

    @property
    def on_from_w(self) -> float:
        """Draw from which the appliance is in use."""
        standby = self.appliance.standby_power_w or 0.0
        return max(
            LEAST_ON_W, 1.5 * standby + 3.0, ON_SHARE * self.appliance.rated_power_w
        )

    @property
    def longest_pause_s(self) -> float:
        """Longest pause within a run of this kind."""
        pauses = [
            state.dwell_s[1] * 1.5
            for state in self.appliance.kind.description.states.values()
            if isinstance(state.draw, Small) and set(state.follows) != {OFF}
        ]
        return min(1800.0, max(pauses, default=30.0))

    def feed(self, at_s: float, power_w: float | None) -> None:
        """Take what the meter says from a time on."""
        on = power_w is not None and power_w >= self.on_from_w
        if on:
            if self._run_start_s is None:
                self._run_start_s = at_s
            elif (
                self._off_since_s is not None
                and at_s - self._off_since_s > self.longest_pause_s
            ):
                self._end()
                self._run_start_s = at_s
            self._off_since_s = None
        elif self._run_start_s is not None:
            if self._off_since_s is None:
                self._off_since_s = at_s
            elif at_s - self._off_since_s > self.longest_pause_s:
                self._end()
        if power_w == self._power_w and self.stretches:
            last = self.stretches[-1]
            if last.run_start_s == self._run_start_s:
                return
        self._power_w = power_w
        full = 0.6 * self.appliance.rated_power_w
        self.stretches.append(
            Stretch(
                at_s,
                (power_w or 0.0) if self._run_start_s is not None else 0.0,
                self._run_start_s,
                Phase.HEATING if self.power_w >= full else Phase.HOLDING,
            )
        )

    def _end(self) -> None:
        """End the run where its last draw ended."""
        off = self._off_since_s
        self._run_start_s = None
        self._off_since_s = None
        self.stretches = [
            s._replace(power_w=0.0, run_start_s=None)
            if off is not None and s.start_s >= off
            else s
            for s in self.stretches
        ]

    def drop_before(self, at_s: float) -> None:
        """Let go what lies before a time."""
        stretches = self.stretches
        count = 0
        while count + 1 < len(stretches) and stretches[count + 1].start_s <= at_s:
            count += 1
        if count:
            del stretches[:count]

    def snapshot(self) -> MeteredApplianceState:
        """Return the whole state, JSON-able."""
        return {
            "power_w": self._power_w,
            "run_start_s": self._run_start_s,
            "off_since_s": self._off_since_s,
            "stretches": [row(stretch) for stretch in self.stretches],
        }

    def restore(self, state: MeteredApplianceState) -> None:
        """Take over what `snapshot` gave."""
        self._power_w = state["power_w"]
        self._run_start_s = state["run_start_s"]
        self._off_since_s = state["off_since_s"]
        self.stretches = [from_row(Stretch, one) for one in state["stretches"]]


def with_metered(
    found: list[Segment], meters: Mapping[str, MeteredAppliance]
) -> list[Segment]:
    """Return segments cut where a meter changed, with what the meters say, by name."""
    if not meters or not found:
        return found
    result: list[Segment] = []
    for segment in found:
        cuts = {segment.start_s, segment.end_s}
        for meter in meters.values():
            cuts.update(
                s.start_s
                for s in meter.stretches
                if segment.start_s < s.start_s < segment.end_s
            )
        times = sorted(cuts)
        for start, end in pairwise(times):
            extra: list[Activity] = []
            for name, meter in meters.items():
                stretch = next(
                    (s for s in reversed(meter.stretches) if s.start_s <= start),
                    None,
                )
                if stretch is not None and stretch.run_start_s is not None:
                    extra.append(
                        Activity(
                            name,
                            stretch.run_start_s,
                            stretch.power_w,
                            stretch.phase,
                            1.0,
                        )
                    )
            result.append(
                Segment(start, end, (*segment.activities, *extra), segment.unnamed_w)
            )
    return result
