"""When a changed number is worth a new state."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class ShownStep:
    """The smallest change that is shown: absolute, or a share of the value.

    `digits` are kept when a value is shown. Coming to zero or leaving it always counts.
    """

    size: float
    share: float
    digits: int

    def rounded(self, value: float) -> float:
        """Return the value as it is shown."""
        return round(value, self.digits) + 0.0

    def is_worth_writing(self, shown: float, value: float) -> bool:
        """Whether `value` differs enough from what is shown."""
        if (shown == 0.0) != (value == 0.0):
            return True
        return abs(value - shown) >= max(self.size, self.share * abs(shown))


ANY_STEP: Final = ShownStep(0.05, 0.0, 1)
"""For what stands still once it is known, such as what the last meal took."""

GROWING_WH_STEP: Final = ShownStep(5.0, 0.01, 1)
GROWING_AH_STEP: Final = ShownStep(0.5, 0.01, 1)
"""For what rises all the while, such as what the present meal takes."""

POWER_STEP: Final = ShownStep(3.0, 0.01, 0)
SMALL_STEP: Final = ShownStep(0.1, 0.005, 1)
