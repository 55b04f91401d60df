"""Readings: one value of one sensor at one time."""

from math import isfinite
from typing import Final, NamedTuple

ABSENT_STATES: Final = frozenset({"unavailable", "unknown", "none", "None", ""})
"""What the platform reports instead of a value."""


class Reading(NamedTuple):
    """One value as the platform reports it: text, with the Unix time it holds from."""

    entity_id: str
    state: str
    at_s: float


def number_in(state: str) -> float | None:
    """Return the number that a state holds; None if it holds no finite number."""
    try:
        value = float(state)
    except ValueError:
        return None
    return value if isfinite(value) else None
