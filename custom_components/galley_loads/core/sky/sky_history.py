"""What the sky let through, quarter hour by quarter hour, over the recent weeks.

Kept as the array's power over nameplate times clear sky, beside the sky cell the sun
stood in; divided by the array's yield in that cell it becomes the *clear-sky index*: 1 under a
clear sky, little under an overcast one. Keeping the raw ratio lets an early day be read
anew once the yield is known better. A quarter hour in which a full bank turned sun away
only says "at least this much" and is never taken for cloud.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypedDict

from ..metering.quarter_hours import QUARTER_S
from ..stateful import Row, from_row, row

QUARTERS_PER_DAY: Final = 96
DAYS_KEPT: Final = 30
UNKNOWN: Final = -1
LEAST_ELEVATION_DEG: Final = 4.0
"""Below this the sun gives next to nothing and horizon and masts decide."""

_HIGHEST_CLEAR_SKY_INDEX: Final = 1.5
_LEAST_KNOWN_QUARTERS: Final = 6
_QUARTERS_PER_HOUR: Final = 4
_DONOR_DAYS: Final = 12
_FADE: Final = 0.85


@dataclass(frozen=True, slots=True)
class SkyDay:
    """One UTC day. Each tuple has 96 values, `UNKNOWN` where there is none.

    `ratio` and `forecast` are thousandths of nameplate times clear sky; a ratio of
    -(2 + r) means "at least r". `cell` is the sky cell of the quarter hour's middle,
    `UNKNOWN` while the sun is too low.
    """

    day: int
    ratio: tuple[int, ...]
    cell: tuple[int, ...]
    forecast: tuple[int, ...]


def quarter_of(at_s: float) -> int:
    """Return the number of the quarter hour since 1970 that a moment lies in."""
    return int(at_s // QUARTER_S)


class SkyHistoryState(TypedDict):
    """What `SkyHistory` saves."""

    has_today: bool
    days: list[Row]


class SkyHistory:
    """Collects days of sky."""

    def __init__(self) -> None:
        """Start with no day."""
        self.days: tuple[SkyDay, ...] = ()
        self._today: int | None = None
        self._ratio: list[int] = []
        self._cell: list[int] = []
        self._forecast: list[int] = []

    def observe(
        self,
        quarter: int,
        cell: int,
        ratio: float | None,
        at_least: bool,
        forecast: float | None,
    ) -> None:
        """Take one quarter hour; they come in order of time.

        Args:
            quarter: its number since 1970.
            cell: its sky cell, UNKNOWN while the sun is too low.
            ratio: power over nameplate times clear sky, None where not measured.
            at_least: a full bank turned sun away.
            forecast: what the owner's forecast had said, as such a ratio.
        """
        day, place = divmod(quarter, QUARTERS_PER_DAY)
        if day != self._today:
            self._open(day)
        self._cell[place] = cell
        if cell == UNKNOWN:
            return
        if ratio is not None:
            value = round(max(ratio, 0.0) * 1000)
            self._ratio[place] = -(2 + value) if at_least else value
        if forecast is not None:
            self._forecast[place] = round(max(forecast, 0.0) * 1000)

    def _open(self, day: int) -> None:
        if self._today is not None:
            # A clock that was wrong leaves days far off, or days that are yet to come.
            near = range(day - 2 * DAYS_KEPT, day)
            days = (*self.days, self.today_so_far())
            self.days = tuple(one for one in days if one.day in near)[-DAYS_KEPT:]
        self._today = day
        self._ratio = [UNKNOWN] * QUARTERS_PER_DAY
        self._cell = [UNKNOWN] * QUARTERS_PER_DAY
        self._forecast = [UNKNOWN] * QUARTERS_PER_DAY

    @property
    def has_today(self) -> bool:
        """Whether anything was seen yet."""
        return self._today is not None

    def all_days(self) -> tuple[SkyDay, ...]:
        """Return the days that are over, and the one in progress as it stands."""
        return (*self.days, self.today_so_far()) if self.has_today else self.days

    def today_so_far(self) -> SkyDay:
        """Return the day in progress as it stands."""
        return SkyDay(
            self._today or 0,
            tuple(self._ratio),
            tuple(self._cell),
            tuple(self._forecast),
        )

    def snapshot(self) -> SkyHistoryState:
        """Return the state, JSON-able."""
        return {
            "has_today": self.has_today,
            "days": [row(day) for day in self.all_days()],
        }

    def restore(self, state: SkyHistoryState) -> None:
        """Take a state that `snapshot` gave."""
        days = [from_row(SkyDay, one) for one in state["days"]]
        if state["has_today"]:
            today = days.pop()
            self._today = today.day
            self._ratio = list(today.ratio)
            self._cell = list(today.cell)
            self._forecast = list(today.forecast)
        self.days = tuple(days)


@dataclass(frozen=True, slots=True)
class ClearSkyIndex:
    """Clear-sky index over a run of quarter hours, the first of which has number `first`.

    `seen` has None where nothing was measured or a full bank held the sun back; `filled`
    carries the last word over such holes and over the night; `forecast` is the owner's
    forecast in the same terms, None where there was none. `known` says where there was a
    reading by day, held back or not; `known_days` counts the days that have some.
    """

    first: int
    seen: tuple[float | None, ...]
    filled: tuple[float, ...]
    forecast: tuple[float | None, ...]
    known: tuple[bool, ...]
    known_days: int

    @property
    def end(self) -> int:
        """The number of the quarter hour after the last."""
        return self.first + len(self.seen)

    def knows_day_before(self, quarter: int) -> bool:
        """Return whether the day that ends before a quarter hour says something."""
        end = quarter - self.first
        if end < QUARTERS_PER_DAY:
            return False
        return sum(self.known[end - QUARTERS_PER_DAY : end]) >= _LEAST_KNOWN_QUARTERS


EMPTY: Final = ClearSkyIndex(0, (), (), (), (), 0)


def clear_sky_index_of(
    days: Sequence[SkyDay], table: Sequence[float], until: int | None = None
) -> ClearSkyIndex:
    """Return the days as clear-sky index by the array's present yields; missing days are holes.

    Args:
        days: in order of time.
        table: yield of each sky cell.
        until: where the run of quarter hours ends, None for the end of the last day. What
            lies between the last day and there is a hole.
    """
    if not days:
        return EMPTY
    first_day, last_day = days[0].day, days[-1].day
    by_day = {day.day: day for day in days}
    seen: list[float | None] = []
    least: list[float] = []
    daylight: list[bool] = []
    forecast: list[float | None] = []
    known: list[bool] = []
    known_days = 0
    blank = [None] * QUARTERS_PER_DAY
    for number in range(first_day, last_day + 1):
        day = by_day.get(number)
        if day is None:
            seen.extend(blank)
            forecast.extend(blank)
            least.extend([0.0] * QUARTERS_PER_DAY)
            daylight.extend([False] * QUARTERS_PER_DAY)
            known.extend([False] * QUARTERS_PER_DAY)
            continue
        for ratio, cell, told in zip(day.ratio, day.cell, day.forecast, strict=True):
            scale = 0.001 / table[cell] if cell != UNKNOWN else 0.0
            held_back = ratio < UNKNOWN
            measured = ratio >= 0 and cell != UNKNOWN
            known.append(measured or held_back)
            seen.append(
                min(ratio * scale, _HIGHEST_CLEAR_SKY_INDEX) if measured else None
            )
            least.append(-(ratio + 2) * scale if held_back else 0.0)
            daylight.append(cell != UNKNOWN)
            forecast.append(told * scale if told >= 0 and cell != UNKNOWN else None)
        known_days += sum(known[-QUARTERS_PER_DAY:]) >= _LEAST_KNOWN_QUARTERS
    first = first_day * QUARTERS_PER_DAY
    if until is not None:
        length = max(until - first, 0)
        hole = max(length - len(seen), 0)
        seen = [*seen, *[None] * hole][:length]
        forecast = [*forecast, *[None] * hole][:length]
        least = [*least, *[0.0] * hole][:length]
        daylight = [*daylight, *[False] * hole][:length]
        known = [*known, *[False] * hole][:length]
    return ClearSkyIndex(
        first,
        tuple(seen),
        tuple(_fill(seen, least, daylight)),
        tuple(forecast),
        tuple(known),
        known_days,
    )


def _fill(
    seen: Sequence[float | None], least: Sequence[float], daylight: Sequence[bool]
) -> list[float]:
    """Fill holes: in daylight by an earlier day led on from the last hour, else by that hour.

    A hole by day (a full bank, a sensor gone) takes the course of the newest earlier day
    that saw this quarter hour, shifted by how the hour before the hole differed; so it
    stays as lively as real skies are. Whatever a full bank proved is kept as a minimum.
    """
    first = next((value for value in seen if value is not None), 0.7)
    last_hour = [first] * _QUARTERS_PER_HOUR
    filled: list[float] = []
    hole = 0
    for i, (value, lowest) in enumerate(zip(seen, least, strict=True)):
        if value is not None:
            filled.append(value)
            last_hour = [*last_hour[1:], value]
            hole = 0
            continue
        hole += 1
        guess = sum(last_hour) / _QUARTERS_PER_HOUR
        if daylight[i]:
            guess = _from_earlier_day(seen, filled, i, hole, guess)
        filled.append(max(guess, min(lowest, _HIGHEST_CLEAR_SKY_INDEX)))
    return filled


def _from_earlier_day(
    seen: Sequence[float | None],
    filled: Sequence[float],
    place: int,
    hole: int,
    last_hour: float,
) -> float:
    """Return what the newest earlier day says of a place within a hole."""
    for back in range(1, _DONOR_DAYS + 1):
        donor = place - back * QUARTERS_PER_DAY
        if donor - hole - _QUARTERS_PER_HOUR < 0:
            break
        value = seen[donor]
        if value is not None:
            before = filled[donor - hole - _QUARTERS_PER_HOUR + 1 : donor - hole + 1]
            usual = sum(before) / len(before)
            kept: float = _FADE ** (hole / _QUARTERS_PER_HOUR)
            return max(value + kept * (last_hour - usual), 0.02)
    return last_hour
