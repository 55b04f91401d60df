"""What the boat drew hour by hour beside cooking, and what else charged the bank.

An hour's demand is known at once, but what of it was cooking only once inference has
settled; so hours wait, and are filed when they are settled (or when settling plainly
does not come).
"""

from dataclasses import dataclass
from datetime import tzinfo
from typing import Final, TypedDict

from ..stateful import Row, from_row, row
from .habits import WeeklyProfile, WeeklyProfileState, hour_of_week

HOUR_S: Final = 3600.0
HOURS_KEPT: Final = 24 * 100
_LEAST_KNOWN_HOURS: Final = 0.5
_SETTLING_HOURS: Final = 4


@dataclass(frozen=True, slots=True)
class PastHour:
    """One hour at the bank's side, W on average.

    `background_w` and `galley_w` add up to the demand; `solar_w` is what the sun offered,
    a full bank's refusal undone as well as it can be told.
    """

    background_w: float
    galley_w: float
    solar_w: float
    other_w: float


class DemandHistoryState(TypedDict):
    """What `DemandHistory` saves."""

    profile: WeeklyProfileState
    hours: list[tuple[int, Row]]
    open: list[tuple[int, list[float]]]
    galley_wh: list[tuple[int, float]]
    settled_s: float | None


class DemandHistory:
    """Files hours of demand, and learns the weekly profile of the background."""

    def __init__(self, zone: tzinfo) -> None:
        """Start with nothing seen; `zone` is the boat's clock."""
        self._zone = zone
        self.profile = WeeklyProfile()
        self.hours: dict[int, PastHour] = {}
        # Per open hour: demand Wh, hours known, solar Wh, other Wh.
        self._open: dict[int, list[float]] = {}
        self._galley_wh: dict[int, float] = {}
        self._settled_s: float | None = None

    def observe(
        self,
        start_s: float,
        hours: float,
        demand_w: float | None,
        solar_w: float,
        other_w: float,
    ) -> None:
        """Take a stretch that lies within one hour; demand at the bank's side."""
        hour = int(start_s // HOUR_S)
        if demand_w is not None:
            sums = self._open.setdefault(hour, [0.0] * 4)
            sums[0] += demand_w * hours
            sums[1] += hours
            sums[2] += solar_w * hours
            sums[3] += other_w * hours
        self._file(hour)

    def note_galley(self, start_s: float, end_s: float, energy_dc_wh: float) -> None:
        """Take settled cooking and hot water between two moments, Wh at the bank's side."""
        span_s = end_s - start_s
        at_s = start_s
        while span_s > 0.0 and at_s < end_s:
            hour = int(at_s // HOUR_S)
            until_s = min(end_s, (hour + 1) * HOUR_S)
            share = energy_dc_wh * (until_s - at_s) / span_s
            self._galley_wh[hour] = self._galley_wh.get(hour, 0.0) + share
            at_s = until_s

    def settle(self, until_s: float) -> None:
        """All cooking before `until_s` has been told."""
        if self._settled_s is None or until_s > self._settled_s:
            self._settled_s = until_s

    def start_over(self, at_s: float) -> None:
        """Forget the open hours, and those that lie after `at_s`: the clock was set."""
        self._open.clear()
        self._galley_wh.clear()
        self._settled_s = None
        present_hour = int(at_s // HOUR_S)
        self.hours = {h: past for h, past in self.hours.items() if h < present_hour}

    def _file(self, present_hour: int) -> None:
        settled_hour = (
            present_hour - _SETTLING_HOURS
            if self._settled_s is None
            else max(int(self._settled_s // HOUR_S), present_hour - _SETTLING_HOURS)
        )
        for hour in [h for h in self._open if h < min(settled_hour, present_hour)]:
            demand_wh, known_h, solar_wh, other_wh = self._open.pop(hour)
            galley_w = self._galley_wh.pop(hour, 0.0)
            if known_h < _LEAST_KNOWN_HOURS:
                continue
            demand_w = demand_wh / known_h
            background_w = max(demand_w - galley_w, 0.0)
            self.hours[hour] = PastHour(
                round(background_w, 1),
                round(galley_w, 1),
                round(solar_wh / known_h, 1),
                round(other_wh / known_h, 1),
            )
            self.profile.observe(hour_of_week(hour * HOUR_S, self._zone), background_w)
        self._forget(present_hour)

    def _forget(self, present_hour: int) -> None:
        oldest = present_hour - HOURS_KEPT
        while self.hours and (first := next(iter(self.hours))) < oldest:
            del self.hours[first]
        for hour in [h for h in self._galley_wh if h < present_hour - 48]:
            del self._galley_wh[hour]

    def snapshot(self) -> DemandHistoryState:
        """Return the state, JSON-able."""
        return {
            "profile": self.profile.snapshot(),
            "hours": [(hour, row(past)) for hour, past in self.hours.items()],
            "open": [(hour, list(sums)) for hour, sums in self._open.items()],
            "galley_wh": list(self._galley_wh.items()),
            "settled_s": self._settled_s,
        }

    def restore(self, state: DemandHistoryState) -> None:
        """Take a state that `snapshot` gave."""
        self.profile.restore(state["profile"])
        self.hours = {hour: from_row(PastHour, past) for hour, past in state["hours"]}
        self._open = {hour: list(sums) for hour, sums in state["open"]}
        self._galley_wh = dict(state["galley_wh"])
        self._settled_s = state["settled_s"]
