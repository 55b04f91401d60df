"""Quantiles of a few sorted numbers."""

from collections.abc import Sequence


def quantile(ordered: Sequence[float], share: float) -> float:
    """Return a quantile of sorted values (at least one), between neighbours by straight line."""
    place = share * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (ordered[high] - ordered[low]) * (place - low)
