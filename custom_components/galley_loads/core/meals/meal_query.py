"""Which meals, and what they come to."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from enum import StrEnum

from .meal_record import MealRecord


@dataclass(frozen=True, slots=True)
class MealFilter:
    """Which meals are meant; None means all.

    A meal belongs to the span in which it begins: `from_s` included, `to_s` not. Words
    are compared without regard to case.
    """

    from_s: float | None = None
    to_s: float | None = None
    label: str | None = None
    dish: str | None = None
    appliance: str | None = None

    def matches(self, record: MealRecord) -> bool:
        """Whether the meal is one of those meant."""
        if self.from_s is not None and record.start_s < self.from_s:
            return False
        if self.to_s is not None and record.start_s >= self.to_s:
            return False
        if not _same(self.label, record.label):
            return False
        if not _same(self.dish, record.dish):
            return False
        return self.appliance is None or any(
            _same(self.appliance, name) for name in record.meal.appliances
        )


def _same(wanted: str | None, word: str | None) -> bool:
    if wanted is None:
        return True
    return word is not None and wanted.casefold() == word.casefold()


def select(records: Iterable[MealRecord], wanted: MealFilter) -> Iterator[MealRecord]:
    """Yield the meals that are meant, in the order given."""
    return (record for record in records if wanted.matches(record))


class Grouping(StrEnum):
    """By what meals are summed. Periods are those of the boat's time."""

    ALL = "all"
    LABEL = "label"
    DISH = "dish"
    APPLIANCE = "appliance"
    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    YEAR = "year"


@dataclass(slots=True)
class MealSum:
    """What the meals of one group come to.

    `solar_share` is the sun's part of the energy of those meals where it is known, None
    where it is known of none. By appliance, only that appliance's runs are counted.
    """

    group: str | None
    meals: int = 0
    energy_wh: float = 0.0
    bank_ah: float = 0.0
    drawn_ah: float = 0.0
    solar_wh: float = 0.0
    solar_known_wh: float = 0.0

    @property
    def solar_share(self) -> float | None:
        """The sun's part, 0 to 1."""
        if self.solar_known_wh <= 0.0:
            return None
        return self.solar_wh / self.solar_known_wh

    def add(
        self,
        energy_wh: float,
        bank_ah: float,
        drawn_ah: float,
        solar_wh: float | None,
    ) -> None:
        """Count one meal, or one appliance's part of it."""
        self.meals += 1
        self.energy_wh += energy_wh
        self.bank_ah += bank_ah
        self.drawn_ah += drawn_ah
        if solar_wh is not None:
            self.solar_wh += solar_wh
            self.solar_known_wh += energy_wh


class MealTally:
    """Sums meals one by one, so that years of them need no more room than their groups."""

    def __init__(self, grouping: Grouping, zone: tzinfo) -> None:
        """Start with nothing counted; `zone` is the boat's."""
        self._grouping = grouping
        self._zone = zone
        self._sums: dict[str | None, MealSum] = {}

    def add(self, record: MealRecord) -> None:
        """Count one meal."""
        if self._grouping is Grouping.APPLIANCE:
            self._add_by_appliance(record)
            return
        meal = record.meal
        self._sum(self._group(record)).add(
            meal.energy_wh, meal.bank_ah, meal.drawn_ah, record.solar_wh
        )

    def sums(self) -> list[MealSum]:
        """Return the sums: periods in order of time, others by energy, largest first."""
        if self._grouping in (
            Grouping.DAY,
            Grouping.WEEK,
            Grouping.MONTH,
            Grouping.YEAR,
        ):
            return sorted(self._sums.values(), key=lambda s: s.group or "")
        return sorted(self._sums.values(), key=lambda s: (-s.energy_wh, s.group or ""))

    def _sum(self, group: str | None) -> MealSum:
        return self._sums.setdefault(group, MealSum(group))

    def _group(self, record: MealRecord) -> str | None:
        at = datetime.fromtimestamp(record.start_s, UTC).astimezone(self._zone)
        match self._grouping:
            case Grouping.LABEL:
                return record.label
            case Grouping.DISH:
                return record.dish
            case Grouping.DAY:
                return at.strftime("%Y-%m-%d")
            case Grouping.WEEK:
                year, week, _ = at.isocalendar()
                return f"{year}-W{week:02d}"
            case Grouping.MONTH:
                return at.strftime("%Y-%m")
            case Grouping.YEAR:
                return at.strftime("%Y")
            case _:
                return None

    def _add_by_appliance(self, record: MealRecord) -> None:
        meal = record.meal
        for name in meal.appliances:
            runs = [run for run in meal.runs if run.appliance == name]
            self._sum(name).add(
                sum(run.energy_wh for run in runs),
                sum(run.bank_ah for run in runs),
                sum(run.drawn_ah for run in runs),
                None if meal.solar_share is None else sum(run.solar_wh for run in runs),
            )
