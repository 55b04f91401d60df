"""Readings: one value of one sensor at one time."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reading:
    """One value as the platform reports it: text, with the Unix time it holds from."""

    entity_id: str
    state: str
    at_s: float
