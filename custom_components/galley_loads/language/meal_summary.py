"""The meal book as a plain text to share: one line a meal, then what they come to."""

from collections.abc import Iterator, Sequence

from ..core.meals.meal_label import label_as_said
from ..core.meals.meal_query import MealSum, MealTally
from ..core.meals.meal_record import MealRecord
from ..core.phrase import Phrase, phrase
from .speech import Speech


def summary_lines(
    boat_name: str, records: Sequence[MealRecord], tally: MealTally, speech: Speech
) -> Iterator[str]:
    """Yield the lines, with times on the clock of `speech`."""
    yield speech.say(phrase("summary.title", boat=boat_name))
    if not records:
        yield speech.say(phrase("summary.no_meals"))
        return
    yield from speech.say_all(_meal(record) for record in records)
    yield ""
    yield from speech.say_all(_sum(group) for group in tally.sums())


def _meal(record: MealRecord) -> Phrase:
    meal, label = record.meal, label_as_said(record.label)
    if record.dish is not None:
        label = phrase("summary.label_of_dish", label=label, dish=record.dish)
    if meal.solar_share is None:
        return phrase(
            "summary.meal",
            start_s=round(record.start_s),
            end_s=round(record.end_s),
            label=label,
            appliances=meal.appliances,
            energy_wh=meal.energy_wh,
            bank_ah=meal.bank_ah,
        )
    return phrase(
        "summary.meal_with_sun",
        start_s=round(record.start_s),
        end_s=round(record.end_s),
        label=label,
        appliances=meal.appliances,
        energy_wh=meal.energy_wh,
        bank_ah=meal.bank_ah,
        solar_share=meal.solar_share,
    )


def _sum(group: MealSum) -> Phrase:
    name = phrase("summary.all") if group.group is None else label_as_said(group.group)
    count = phrase("summary.count", meals=group.meals)
    if group.solar_share is None:
        return phrase(
            "summary.sum",
            group=name,
            count=count,
            energy_wh=group.energy_wh,
            bank_ah=group.bank_ah,
        )
    return phrase(
        "summary.sum_with_sun",
        group=name,
        count=count,
        energy_wh=group.energy_wh,
        bank_ah=group.bank_ah,
        solar_share=group.solar_share,
    )
