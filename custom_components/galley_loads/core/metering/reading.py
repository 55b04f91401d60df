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


def number_of(state: str) -> float:
    """Return the number that a state's text is.

    Raises:
        ValueError: it is none. Digits of other scripts and `1_000` are none: they come from
            a source that is out of order, though Python would read them.
    """
    if "_" in state or not state.isascii():
        raise ValueError(f"{state!r} is no number")
    return float(state)
