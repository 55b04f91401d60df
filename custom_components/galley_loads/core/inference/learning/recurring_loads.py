"""Loads that recur unassigned, grouped and described.

Every stretch of unnamed load is one occurrence. Occurrences of nearly the same power and
length are one load; what came on several days is worth telling: "about 1,180 W for
3 minutes, on 9 mornings".
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Final, NamedTuple, TypedDict

from ...phrase import Phrase, phrase
from ...stateful import Row, from_row, row
from ..model.activity import Segment

KEPT: Final = 400
"""Judgement, occurrences: how many of the last ones are remembered."""
POWER_SHARE: Final = 0.06
"""Judgement, a share: powers that differ by less are those of one load."""
DURATION_FACTOR: Final = 2.0
"""Judgement, a factor: durations that differ by less are those of one load."""
LEAST_W: Final = 40.0
"""Judgement, W: less is not worth a name."""
LEAST_S: Final = 10.0
"""Judgement, s: what is briefer is not worth a name."""
LEAST_DAYS: Final = 3
"""Judgement, days: what came on fewer is not reported."""
SAME_PART: Final = 0.8
"""Judgement, a share: of the occurrences within one part of the day, from which on that
part is stated."""
PARTS: Final = (
    (5, 11, "morning"),
    (11, 17, "afternoon"),
    (17, 23, "evening"),
    (23, 29, "night"),
)
"""Judgement, hours of the day: the parts of the day."""


class UnnamedRun(NamedTuple):
    """One time that something nobody named ran."""

    start_s: float
    duration_s: float
    power_w: float


@dataclass(frozen=True, slots=True)
class RecurringLoad:
    """A load that nobody named and that keeps coming back.

    `part_of_day` is `morning`, `afternoon`, `evening` or `night` where it nearly always
    comes then, None otherwise. `days` counts the boat's days on which it ran.
    """

    power_w: float
    duration_s: float
    count: int
    days: int
    part_of_day: str | None
    last_s: float

    def describe(self) -> Phrase:
        """Return about how much, for how long and when."""
        power_w, length, days = round(self.power_w, -1), self._length(), self.days
        match self.part_of_day:
            case "morning":
                return phrase(
                    "recurring.mornings", power_w=power_w, length=length, days=days
                )
            case "afternoon":
                return phrase(
                    "recurring.afternoons", power_w=power_w, length=length, days=days
                )
            case "evening":
                return phrase(
                    "recurring.evenings", power_w=power_w, length=length, days=days
                )
            case "night":
                return phrase(
                    "recurring.nights", power_w=power_w, length=length, days=days
                )
            case _:
                return phrase(
                    "recurring.days", power_w=power_w, length=length, days=days
                )

    def _length(self) -> Phrase:
        minutes = self.duration_s / 60.0
        if minutes < 1.5:
            seconds = max(10, round(self.duration_s, -1))
            return phrase("recurring.seconds", duration_s=seconds)
        if minutes < 90.0:
            return phrase("recurring.minutes", duration_min=round(minutes))
        return phrase("recurring.hours", duration_h=minutes / 60.0)


class DiscoveryState(TypedDict):
    """What `Discovery` saves."""

    occurrences: list[Row]
    since_s: float | None
    until_s: float
    energy_ws: float


class Discovery:
    """Settled segments in, recurring loads out; memory is bounded."""

    def __init__(self) -> None:
        """Start without any."""
        self._occurrences: list[UnnamedRun] = []
        self._since_s: float | None = None
        self._until_s = 0.0
        self._energy_ws = 0.0

    def add(self, segment: Segment) -> None:
        """Take the next settled segment."""
        if segment.unnamed_w >= LEAST_W:
            if self._since_s is not None and self._is_new(segment.unnamed_w):
                self._close()
            if self._since_s is None:
                self._since_s = segment.start_s
                self._energy_ws = 0.0
            self._until_s = segment.end_s
            self._energy_ws += segment.unnamed_w * (segment.end_s - segment.start_s)
        elif self._since_s is not None:
            self._close()

    def _is_new(self, power_w: float) -> bool:
        """Whether an unnamed draw is so different that another load must have come."""
        since_s = self._since_s
        if since_s is None or self._until_s <= since_s:
            return False
        mean_w = self._energy_ws / (self._until_s - since_s)
        return abs(power_w - mean_w) > 0.25 * mean_w + 30.0

    def _close(self) -> None:
        since_s = self._since_s
        self._since_s = None
        if since_s is None:
            return
        seconds = self._until_s - since_s
        if seconds >= LEAST_S:
            self._occurrences.append(
                UnnamedRun(since_s, seconds, self._energy_ws / seconds)
            )
            del self._occurrences[:-KEPT]

    def start_over(self, at_s: float) -> None:
        """Forget what goes on, and what came after `at_s`: the clock was set."""
        self._since_s = None
        self._occurrences = [o for o in self._occurrences if o.start_s <= at_s]

    def found(self, time_zone: tzinfo = UTC) -> tuple[RecurringLoad, ...]:
        """Return the loads that came on at least three days, most frequent first."""
        groups: list[list[UnnamedRun]] = []
        for occurrence in self._occurrences:
            for group in groups:
                if _alike(group, occurrence):
                    group.append(occurrence)
                    break
            else:
                groups.append([occurrence])
        loads = [_describe(group, time_zone) for group in groups]
        return tuple(
            sorted(
                (load for load in loads if load.days >= LEAST_DAYS),
                key=lambda load: (-load.count, -load.power_w),
            )
        )

    def forget(self, power_w: float, duration_s: float) -> None:
        """Forget a load that has got a name: its occurrences of about this size."""
        named = [UnnamedRun(0.0, duration_s, power_w)]
        self._occurrences = [o for o in self._occurrences if not _alike(named, o)]

    def snapshot(self) -> DiscoveryState:
        """Return the whole state, JSON-able."""
        return {
            "occurrences": [row(one) for one in self._occurrences],
            "since_s": self._since_s,
            "until_s": self._until_s,
            "energy_ws": self._energy_ws,
        }

    def restore(self, state: DiscoveryState) -> None:
        """Take over what `snapshot` gave."""
        self._occurrences = [from_row(UnnamedRun, one) for one in state["occurrences"]]
        self._since_s = state["since_s"]
        self._until_s = state["until_s"]
        self._energy_ws = state["energy_ws"]


def _middle(values: Iterable[float]) -> float:
    ordered = sorted(values)
    return ordered[len(ordered) // 2]


def _alike(group: list[UnnamedRun], one: UnnamedRun) -> bool:
    power = _middle(o.power_w for o in group)
    duration = _middle(o.duration_s for o in group)
    return (
        abs(one.power_w - power) <= POWER_SHARE * power
        and duration / DURATION_FACTOR <= one.duration_s <= duration * DURATION_FACTOR
    )


def _describe(group: list[UnnamedRun], time_zone: tzinfo) -> RecurringLoad:
    times = [datetime.fromtimestamp(o.start_s, time_zone) for o in group]
    parts = [
        next(name for low, high, name in PARTS if low <= (t.hour - 5) % 24 + 5 < high)
        for t in times
    ]
    usual = max(sorted(set(parts)), key=parts.count)
    return RecurringLoad(
        power_w=_middle(o.power_w for o in group),
        duration_s=_middle(o.duration_s for o in group),
        count=len(group),
        days=len({t.date() for t in times}),
        part_of_day=usual if parts.count(usual) >= SAME_PART * len(parts) else None,
        last_s=max(o.start_s for o in group),
    )
