"""What the inverter carries when nobody cooks, by its own meter.

The bank's side knows of pumps and fridges that the inverter never sees, so its background
says nothing of how much of the inverter is left. The middle of the AC meter's last days
does: nobody cooks for half of the time.
"""

from statistics import median
from typing import Final, TypedDict

from ..boat.boat import Sensors

_QUARTERS_KEPT: Final = 192
_LEAST_QUARTERS: Final = 8


class AcBackgroundState(TypedDict):
    """What `AcBackground` saves."""

    load_w: list[float]


class AcBackground:
    """Follows the AC meter's quarter hours, W."""

    def __init__(self, sensors: Sensors) -> None:
        """Follow nothing where the AC load has no meter of its own.

        With a DC meter beside it a sample's load is both together, which tells nothing
        of the inverter's part.
        """
        self._follows = (
            sensors.ac_load_power is not None and sensors.dc_load_power is None
        )
        self._load_w: list[float] = []

    def observe(self, load_w: float | None) -> None:
        """Take the mean load of a quarter hour."""
        if self._follows and load_w is not None:
            self._load_w = [*self._load_w, round(load_w, 1)][-_QUARTERS_KEPT:]

    @property
    def usual_w(self) -> float | None:
        """The usual AC background, None where it is not known."""
        if len(self._load_w) < _LEAST_QUARTERS:
            return None
        return median(self._load_w)

    def snapshot(self) -> AcBackgroundState:
        """Return the state, JSON-able."""
        return {"load_w": list(self._load_w)}

    def restore(self, state: AcBackgroundState) -> None:
        """Take a state that `snapshot` gave."""
        self._load_w = list(state["load_w"])
