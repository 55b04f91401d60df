"""Where the sun stands, as the platform's own astronomy library tells it.

The library follows the low-order formulas of the NOAA solar calculator; against the
reference algorithm of Reda and Andreas (NREL/TP-560-34302) it is good to 0.02 degrees,
which is far below what clouds leave unknown.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
import math
from typing import Final

from astral import Observer
from astral.sun import zenith_and_azimuth

_SEARCH_STEP_S: Final = 900.0

HORIZON_ZENITH_DEG: Final = 90.267
"""Apparent zenith of the sun's centre when its upper edge touches the horizon (the
sun's half diameter is 0.267 degrees; refraction is already within apparent angles)."""


@dataclass(frozen=True, slots=True)
class SunPosition:
    """Degrees; `zenith_deg` is apparent (refraction within), azimuth clockwise from north."""

    zenith_deg: float
    azimuth_deg: float

    @property
    def elevation_deg(self) -> float:
        """Height above the horizon."""
        return 90.0 - self.zenith_deg


@lru_cache(maxsize=512)
def sun_position(latitude: float, longitude: float, at_s: float) -> SunPosition:
    """Return where the sun stands over a place (decimal degrees, east positive).

    The last days' quarter hours are remembered: the day ahead is looked at several times.
    """
    zenith_deg, azimuth_deg = zenith_and_azimuth(
        Observer(latitude, longitude), datetime.fromtimestamp(int(at_s), UTC)
    )
    return SunPosition(zenith_deg, azimuth_deg)


def next_sunrise_s(
    latitude: float, longitude: float, at_s: float, within_s: float = 86_400.0
) -> float | None:
    """Return the next sunrise to the second, None where the sun does not rise in time.

    Searched along the sun's own path, so a polar night or a midnight sun is simply a
    path without a crossing.
    """

    def below(t_s: float) -> float:
        return sun_position(latitude, longitude, t_s).zenith_deg - HORIZON_ZENITH_DEG

    step = 0
    before = below(at_s)
    while step * _SEARCH_STEP_S < within_s:
        step += 1
        after = below(at_s + step * _SEARCH_STEP_S)
        if before > 0.0 >= after:
            # Whole seconds, so that the middle always lies between.
            low = float(math.floor(at_s + (step - 1) * _SEARCH_STEP_S))
            high = float(math.ceil(at_s + step * _SEARCH_STEP_S))
            while high - low > 1.0:
                middle = math.floor((low + high) / 2)
                if below(middle) > 0.0:
                    low = middle
                else:
                    high = middle
            return high
        before = after
    return None
