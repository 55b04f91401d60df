"""How a found meal gets into the book, however often it is found.

The same meal can be told twice: after a restart the engine works through the last minutes
again, and the recorder's past can be read as often as the crew likes. Nothing that the
crew touched is ever replaced, what live operation found stays before what was read later,
and a deleted meal does not come back.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .meal_builder import Meal
from .meal_record import MealRecord, Origin, record_of

type Span = tuple[float, float]
"""Start and end, Unix seconds."""


@dataclass(frozen=True, slots=True)
class BookChange:
    """What is to be taken out of the book and what is to be put in."""

    drop: tuple[MealRecord, ...] = ()
    add: tuple[MealRecord, ...] = ()

    def __bool__(self) -> bool:
        """Whether the book becomes another one."""
        return bool(self.drop or self.add)


def file_live(
    meal: Meal, known: Iterable[MealRecord], removed: Iterable[Span]
) -> BookChange:
    """Return what a meal that live operation settled changes.

    `known` are the entries around it, `removed` the spans of deleted meals. A meal that
    is told again takes the place of its first telling.
    """
    return _file(record_of(meal, Origin.LIVE), known, removed, set(Origin))


def file_history(
    meals: Iterable[Meal],
    known: Sequence[MealRecord],
    removed: Sequence[Span],
    read: Span,
) -> BookChange:
    """Return what the meals that were found in the recorder's past change.

    `read` is the span that was read: an earlier reading's findings in it that are not
    found any more are dropped, unless the crew touched them.
    """
    kept = [record for record in known if not _was_read(record, read)]
    dropped = [record for record in known if _was_read(record, read)]
    added: list[MealRecord] = []
    for meal in meals:
        change = _file(record_of(meal, Origin.HISTORY), kept, removed, set())
        added.extend(change.add)
    unchanged = [record for record in added if record in dropped]
    return BookChange(
        tuple(record for record in dropped if record not in unchanged),
        tuple(record for record in added if record not in unchanged),
    )


def _was_read(record: MealRecord, read: Span) -> bool:
    """Whether an entry stands or falls with the reading of a span."""
    return (
        record.origin is Origin.HISTORY
        and not record.edited
        and read[0] <= record.start_s < read[1]
    )


def _file(
    found: MealRecord,
    known: Iterable[MealRecord],
    removed: Iterable[Span],
    replaceable: set[Origin],
) -> BookChange:
    start_s, end_s = found.start_s, found.end_s
    if any(start < end_s and start_s < end for start, end in removed):
        return BookChange()
    in_the_way = [record for record in known if record.overlaps(start_s, end_s)]
    if any(r.edited or r.origin not in replaceable for r in in_the_way):
        return BookChange()
    if found in in_the_way:
        return BookChange(tuple(r for r in in_the_way if r != found))
    return BookChange(tuple(in_the_way), (found,))
