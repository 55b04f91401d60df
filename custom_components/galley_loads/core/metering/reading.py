"""Readings: one value of one sensor at one time."""

from typing import Final, NamedTuple

ABSENT_STATES: Final = frozenset({"unavailable", "unknown", "none", "None", ""})
"""What the platform reports instead of a value."""


class Reading(NamedTuple):
    """One value as the platform reports it: text, with the Unix time it holds from."""

    entity_id: str
    state: str
    at_s: float


type ReadingRow = tuple[str, str, float]
"""A `Reading`, or a plain tuple of the same, which is cheaper to keep by the thousands."""
