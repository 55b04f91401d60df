"""What the boat usually draws, and when its crew usually cooks and heats water."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from statistics import median
from typing import Final, TypedDict

HOURS_PER_WEEK: Final = 168
_FADE: Final = 0.85
_PRIOR_HOURS: Final = 2.0
USES_KEPT: Final = 700
_DAYS_FOR_HABIT: Final = 21
_USUAL_SHARE: Final = 0.5
HOT_WATER: Final = "hot water"


def boat_time(at_s: float, zone: tzinfo) -> datetime:
    """Return the boat's clock at a Unix time."""
    return datetime.fromtimestamp(at_s, UTC).astimezone(zone)


def hour_of_week(at_s: float, zone: tzinfo) -> int:
    """Return the hour of the boat's week, Monday 00:00 being 0."""
    local = boat_time(at_s, zone)
    return local.weekday() * 24 + local.hour


class WeeklyProfileState(TypedDict):
    """What `WeeklyProfile` saves."""

    weight: list[float]
    mean_w: list[float]


class WeeklyProfile:
    """Mean power by hour of the week; older weeks fade.

    An hour that was seen little leans on the same hour of other days, and that on the
    mean of everything.
    """

    def __init__(self) -> None:
        """Start with nothing seen."""
        self._weight = [0.0] * HOURS_PER_WEEK
        self._mean_w = [0.0] * HOURS_PER_WEEK

    def observe(self, hour: int, power_w: float) -> None:
        """Take the mean power of one hour of the week."""
        weight = self._weight[hour] * _FADE + 1.0
        self._mean_w[hour] += (power_w - self._mean_w[hour]) / weight
        self._weight[hour] = weight

    def table(self, prior_w: float) -> tuple[float, ...]:
        """Return the expected power of each hour of the week, `prior_w` where nothing is known."""
        total = sum(self._weight)
        general = (
            sum(w * m for w, m in zip(self._weight, self._mean_w, strict=True))
            + prior_w * _PRIOR_HOURS
        ) / (total + _PRIOR_HOURS)
        expected = [0.0] * HOURS_PER_WEEK
        for hour in range(24):
            same = range(hour, HOURS_PER_WEEK, 24)
            weight = sum(self._weight[h] for h in same)
            daily = (
                sum(self._weight[h] * self._mean_w[h] for h in same)
                + general * _PRIOR_HOURS
            ) / (weight + _PRIOR_HOURS)
            for h in same:
                expected[h] = (
                    self._weight[h] * self._mean_w[h] + daily * _PRIOR_HOURS
                ) / (self._weight[h] + _PRIOR_HOURS)
        return tuple(expected)

    def snapshot(self) -> WeeklyProfileState:
        """Return the state, JSON-able."""
        return {"weight": list(self._weight), "mean_w": list(self._mean_w)}

    def restore(self, state: WeeklyProfileState) -> None:
        """Take a state that `snapshot` gave."""
        self._weight = list(state["weight"])
        self._mean_w = list(state["mean_w"])


@dataclass(frozen=True, slots=True)
class Use:
    """A meal, or hot water from a heater: AC-side energy between two moments."""

    start_s: float
    end_s: float
    label: str
    energy_wh: float


@dataclass(frozen=True, slots=True)
class UsualUse:
    """A use that comes on most days: when on the boat's clock, and what it takes.

    `start_hour` is hours after midnight (the middle one, so it says little of what comes
    several times a day), `share` the share of days that have it, `per_day` how often it
    comes on those, `energy_wh` what it takes a day.
    """

    label: str
    start_hour: float
    minutes: float
    energy_wh: float
    share: float
    per_day: float


def usual_uses(
    uses: Sequence[Use], zone: tzinfo, now_s: float, first_s: float | None
) -> tuple[UsualUse, ...]:
    """Return the uses that come on at least half of the recent days, by time of day.

    Args:
        uses: in order of time.
        zone: the boat's clock.
        now_s: the present.
        first_s: when the history began, None where it has not.
    """
    if first_s is None:
        return ()
    days = min(max((now_s - first_s) / 86_400.0, 1.0), float(_DAYS_FOR_HABIT))
    recent = [use for use in uses if use.start_s >= now_s - days * 86_400.0]
    found: list[UsualUse] = []
    for label in sorted({use.label for use in recent}):
        same = [use for use in recent if use.label == label]
        on_days = {boat_time(use.start_s, zone).date() for use in same}
        share = min(len(on_days) / days, 1.0)
        if share < _USUAL_SHARE or len(on_days) < 2:
            continue
        hours = [_hour(use.start_s, zone) for use in same]
        found.append(
            UsualUse(
                label,
                median(hours),
                median((use.end_s - use.start_s) / 60.0 for use in same),
                sum(use.energy_wh for use in same) / len(on_days),
                share,
                len(same) / len(on_days),
            )
        )
    return tuple(sorted(found, key=lambda usual: (usual.start_hour, usual.label)))


def _hour(at_s: float, zone: tzinfo) -> float:
    local = boat_time(at_s, zone)
    return local.hour + local.minute / 60.0


def done_today(uses: Iterable[Use], zone: tzinfo, now_s: float) -> frozenset[str]:
    """Return the labels that the boat's day has already had, hot drinks and water aside.

    What is drunk or washed with comes several times a day; a dinner comes once.
    """
    today = boat_time(now_s, zone).date()
    return frozenset(
        use.label
        for use in uses
        if use.label not in (HOT_WATER, "hot drink")
        and now_s - 86_400.0 <= use.start_s <= now_s
        and boat_time(use.start_s, zone).date() == today
    )


def shifted_s(at_s: float, days: int, zone: tzinfo) -> float:
    """Return the moment with the same boat time so many days later (clock changes within)."""
    local = boat_time(at_s, zone)
    moved = (local.replace(tzinfo=None) + timedelta(days=days)).replace(tzinfo=zone)
    return moved.timestamp()
