"""What the crew may do to an entry: split it, join several.

Runs stay whole. What was measured between a meal's start and end (`net_ah`, the charge
at the cut) is not known for a part or for several meals together, and then says so.
"""

from collections.abc import Iterable, Sequence

from ..inference.model.activity import Run
from .meal_builder import HOT_DRINK, Meal
from .meal_record import MealRecord, meal_id


class MealEditError(ValueError):
    """An edit that makes no sense; `key` names why.

    Keys: `split_outside` (no run begins before, or none after), `join_one` (fewer than
    two meals), `join_apart` (another meal lies between).
    """

    def __init__(self, key: str) -> None:
        """Keep the reason."""
        super().__init__(key)
        self.key = key


def split(record: MealRecord, at_s: float) -> tuple[MealRecord, MealRecord]:
    """Return the two entries that a cut at `at_s` makes.

    A run belongs to the part in which it begins.

    Raises:
        MealEditError: all runs begin on one side of the cut.
    """
    runs = record.meal.runs
    before = [run for run in runs if run.start_s < at_s]
    after = [run for run in runs if run.start_s >= at_s]
    if not before or not after:
        raise MealEditError("split_outside")
    meal = record.meal
    first = _meal_of(before, meal.label, meal, soc_start=meal.soc_start)
    second = _meal_of(after, meal.label, meal, soc_end=meal.soc_end)
    parts = _part(record, first), _part(record, second)
    if parts[0].meal_id == parts[1].meal_id:
        raise MealEditError("split_outside")
    return parts


def join(records: Iterable[MealRecord], known: Iterable[MealRecord] = ()) -> MealRecord:
    """Return the entry that several make together.

    It takes the label and dish of the largest that has one. `known` are the other entries
    of the time; one that begins in between stands in the way.

    Raises:
        MealEditError: fewer than two entries, or another lies between.
    """
    parts = sorted(records, key=lambda record: record.start_s)
    if len({part.meal_id for part in parts}) < 2:
        raise MealEditError("join_one")
    start_s, end_s = parts[0].start_s, max(part.end_s for part in parts)
    if any(other not in parts and other.overlaps(start_s, end_s) for other in known):
        raise MealEditError("join_apart")
    by_size = sorted(
        parts, key=lambda p: (p.label == HOT_DRINK, -p.meal.energy_wh, p.start_s)
    )
    meal = _meal_of(
        [run for part in parts for run in part.meal.runs],
        by_size[0].meal.label,
        *(part.meal for part in parts),
        soc_start=parts[0].meal.soc_start,
        soc_end=max(parts, key=lambda part: part.end_s).meal.soc_end,
    )
    return MealRecord(
        meal_id(meal.start_s),
        meal,
        by_size[0].origin,
        next((p.given_label for p in by_size if p.given_label is not None), None),
        next((p.dish for p in by_size if p.dish is not None), None),
        edited=True,
    )


def _part(record: MealRecord, meal: Meal) -> MealRecord:
    return MealRecord(
        meal_id(meal.start_s),
        meal,
        record.origin,
        record.given_label,
        record.dish,
        edited=True,
    )


def _meal_of(
    runs: Sequence[Run],
    label: str,
    *sources: Meal,
    soc_start: float | None = None,
    soc_end: float | None = None,
) -> Meal:
    """Return the meal that these runs make; the sun is known if all sources knew it."""
    energy_wh = sum(run.energy_wh for run in runs)
    solar_share = None
    if all(source.solar_share is not None for source in sources):
        solar_wh = sum(run.solar_wh for run in runs)
        solar_share = solar_wh / energy_wh if energy_wh > 0.0 else 0.0
    return Meal(
        min(run.start_s for run in runs),
        max(run.end_s for run in runs),
        label,
        tuple(sorted({run.appliance for run in runs})),
        energy_wh,
        sum(run.bank_ah for run in runs),
        sum(run.drawn_ah for run in runs),
        None,
        solar_share,
        soc_start,
        soc_end,
        tuple(sorted(runs, key=lambda run: (run.start_s, run.appliance))),
    )
