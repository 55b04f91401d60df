"""What waiting costs: the crew's patience, in watt-hours for each hour.

Set by common sense, no source: with middle patience five hours of waiting are worth as
much as boiling the water for three mugs of tea.
"""

from enum import StrEnum


class Patience(StrEnum):
    """From "we eat when we are hungry" (low) to "spare the bank" (high)."""

    LOW = "low"
    MIDDLE = "middle"
    HIGH = "high"

    @property
    def wh_per_hour(self) -> float:
        """What an hour of waiting must at least bring."""
        return {Patience.LOW: 30.0, Patience.MIDDLE: 8.0, Patience.HIGH: 1.0}[self]

    @property
    def least_share(self) -> float:
        """The share of the dish's energy below which a gain is a trifle."""
        return {Patience.LOW: 0.15, Patience.MIDDLE: 0.07, Patience.HIGH: 0.03}[self]
