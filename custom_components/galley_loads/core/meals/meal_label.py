"""What a meal's label is to a reader: the crew's own words stay, ours become a phrase."""

from typing import Final

from ..phrase import Phrase, phrase

_OURS: Final = {
    "breakfast": phrase("meal.breakfast"),
    "lunch": phrase("meal.lunch"),
    "snack": phrase("meal.snack"),
    "dinner": phrase("meal.dinner"),
    "night snack": phrase("meal.night_snack"),
    "hot drink": phrase("meal.hot_drink"),
}


def label_as_said(label: str) -> str | Phrase:
    """Return what stands for a label in a phrase."""
    return _OURS.get(label, label)
