"""Where the sun stands, and what a clear sky gives on a flat deck."""

from datetime import UTC, datetime
import math


def elevation_azimuth(
    latitude: float, longitude: float, at_s: float
) -> tuple[float, float]:
    """Return the sun's elevation and azimuth (from north, eastwards), degrees.

    Declination and equation of time after Spencer (1971); good to half a degree, which
    is better than anybody knows where a boat at anchor points.
    """
    moment = datetime.fromtimestamp(at_s, UTC)
    day = moment.timetuple().tm_yday
    hour = moment.hour + moment.minute / 60 + moment.second / 3600
    x = 2 * math.pi * (day - 1 + (hour - 12) / 24) / 365
    declination = (
        0.006918
        - 0.399912 * math.cos(x)
        + 0.070257 * math.sin(x)
        - 0.006758 * math.cos(2 * x)
        + 0.000907 * math.sin(2 * x)
        - 0.002697 * math.cos(3 * x)
        + 0.00148 * math.sin(3 * x)
    )
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * math.cos(x)
        - 0.032077 * math.sin(x)
        - 0.014615 * math.cos(2 * x)
        - 0.040849 * math.sin(2 * x)
    )
    angle = math.radians(15 * (hour - 12) + longitude + equation_min / 4)
    phi = math.radians(latitude)
    sine = math.sin(phi) * math.sin(declination)
    sine += math.cos(phi) * math.cos(declination) * math.cos(angle)
    elevation = math.asin(max(-1.0, min(1.0, sine)))
    azimuth = math.atan2(
        math.sin(angle),
        math.cos(angle) * math.sin(phi) - math.tan(declination) * math.cos(phi),
    )
    return math.degrees(elevation), (math.degrees(azimuth) + 180) % 360


def clear_sky_w_m2(elevation_deg: float) -> float:
    """Return the global irradiance of a clear sky on the flat, W/m2.

    Kasten and Czeplak (Solar Energy 24, 1980): 910 sin h - 30.
    """
    return max(0.0, 910 * math.sin(math.radians(elevation_deg)) - 30)
