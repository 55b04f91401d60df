"""What a cloudless sky gives on a level deck."""

import math
from typing import Final

HAURWITZ_SCALE_W_M2: Final = 1098.0
HAURWITZ_EXPONENT: Final = 0.059
"""Of the two values in print, 0.059 and 0.057, this is the one that belongs to 1098 W/m2."""


def haurwitz_w_m2(zenith_deg: float) -> float:
    """Return the clear-sky global irradiance on a level plane.

    1098 cos z exp(-0.059 / cos z), after B. Haurwitz, Insolation in Relation to
    Cloudiness and Cloud Density, Journal of Meteorology 2 (1945) 154-166.

    Args:
        zenith_deg: apparent (refracted) zenith angle of the sun; 90 or more gives 0.
    """
    cosine = math.cos(math.radians(zenith_deg))
    if zenith_deg >= 90.0 or cosine <= 0.0:
        return 0.0
    return HAURWITZ_SCALE_W_M2 * cosine * math.exp(-HAURWITZ_EXPONENT / cosine)
