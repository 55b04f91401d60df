"""The sun and the clear sky against published values and a reference library."""

from datetime import UTC, datetime
from itertools import pairwise

from hypothesis import given, strategies as st
import pandas as pd
import pvlib
import pytest

from custom_components.galley_loads.core.sky.clear_sky import haurwitz_w_m2
from custom_components.galley_loads.core.sky.sun import next_sunrise_s, sun_position


def unix(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


# Haurwitz (1945) with exponent 0.059, the values pvlib gives.
HAURWITZ = [
    (0, 1035.092033),
    (15, 997.743366),
    (30, 888.271335),
    (45, 714.250279),
    (60, 487.894133),
    (75, 226.254619),
    (80, 135.741748),
    (85, 48.629869),
    (89, 0.652037),
]


@pytest.mark.parametrize(("zenith_deg", "expected_w_m2"), HAURWITZ)
def test_the_clear_sky_is_that_of_haurwitz(zenith_deg, expected_w_m2):
    assert haurwitz_w_m2(zenith_deg) == pytest.approx(expected_w_m2, abs=1e-4)


@given(st.floats(0, 180))
def test_the_clear_sky_agrees_with_the_reference_library(zenith_deg):
    reference = pvlib.clearsky.haurwitz(pd.Series([zenith_deg]))["ghi"].iloc[0]
    assert haurwitz_w_m2(zenith_deg) == pytest.approx(reference, abs=1e-6)


@pytest.mark.parametrize("zenith_deg", [90.0, 90.001, 96.5, 120.0, 180.0])
def test_below_the_horizon_there_is_no_clear_sky(zenith_deg):
    # The cosine is negative there and the exponential would overflow (pvlib issue 363).
    assert haurwitz_w_m2(zenith_deg) == 0.0


def test_the_other_exponent_in_print_is_not_ours():
    # 0.057 instead of 0.059 gives 489.850 W/m2 at 60 degrees.
    assert abs(haurwitz_w_m2(60.0) - 489.850) > 1.0


def test_the_sun_stands_where_the_reference_algorithm_puts_it():
    # Reda and Andreas, NREL/TP-560-34302: 2003-10-17 12:30:30 UTC-7, Golden, Colorado;
    # zenith 50.11162, azimuth 194.34024. Low-order formulas are good to 0.02 degrees.
    sun = sun_position(39.742476, -105.1786, unix("2003-10-17T19:30:30"))
    assert sun.zenith_deg == pytest.approx(50.11162, abs=0.02)
    assert sun.azimuth_deg == pytest.approx(194.34024, abs=0.02)


# pvlib's nrel_numpy (apparent zenith, azimuth), both hemispheres and all longitudes.
SPOTS = [
    (0.0, 0.0, "2024-03-20T12:00:00", 1.83310, None),
    (-33.86, 151.21, "2024-01-15T02:00:00", 12.65642, 4.51228),
    (18.43, -64.62, "2024-02-01T16:00:00", 36.40746, 167.05896),
    (60.0, 20.0, "2024-06-21T22:30:00", 96.53174, None),
    (36.0, -5.0, "2024-06-21T16:00:00", 48.32300, 270.66543),
    (36.0, -5.0, "2024-06-21T12:00:00", 13.42422, 157.83058),
]


@pytest.mark.parametrize(("latitude", "longitude", "when", "zenith", "azimuth"), SPOTS)
def test_the_sun_stands_where_it_should_in_both_hemispheres(
    latitude, longitude, when, zenith, azimuth
):
    sun = sun_position(latitude, longitude, unix(when))
    # Far below the horizon the two differ in how they fade refraction out.
    tolerance = 0.03 if zenith < 90.0 else 0.06
    assert sun.zenith_deg == pytest.approx(zenith, abs=tolerance)
    if azimuth is not None:
        assert sun.azimuth_deg == pytest.approx(azimuth, abs=0.06)


@given(
    st.floats(-70, 70),
    st.floats(-180, 180),
    st.integers(int(unix("2020-01-01")), int(unix("2034-12-31"))),
)
def test_the_sun_agrees_with_the_reference_library_anywhere(latitude, longitude, at_s):
    sun = sun_position(latitude, longitude, at_s)
    reference = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex([pd.Timestamp(at_s, unit="s", tz="UTC")]), latitude, longitude
    ).iloc[0]
    assert sun.zenith_deg == pytest.approx(reference["apparent_zenith"], abs=0.6)
    if reference["apparent_zenith"] < 85:
        assert sun.zenith_deg == pytest.approx(reference["apparent_zenith"], abs=0.03)


def test_the_sun_does_not_jump_at_the_date_line():
    at_s = unix("2026-06-01T02:00:00")
    east, west = sun_position(-17.0, 179.999, at_s), sun_position(-17.0, -179.999, at_s)
    assert east.zenith_deg == pytest.approx(west.zenith_deg, abs=0.01)
    assert east.azimuth_deg == pytest.approx(west.azimuth_deg, abs=0.01)


def equation_of_time_min(day: str) -> float:
    """Return by how much the sun is ahead of the clock: from when it crosses due south."""
    low, high = unix(f"{day}T11:30:00"), unix(f"{day}T12:30:00")
    while high - low > 1.0:
        middle = (low + high) / 2.0
        if sun_position(40.0, 0.0, middle).azimuth_deg < 180.0:
            low = middle
        else:
            high = middle
    return (unix(f"{day}T12:00:00") - low) / 60.0


# Spencer (1971), day 1, 81, 172 and 290 of the year; the series is good to about half a
# minute, since it knows no leap years.
EQUATION_OF_TIME = [
    ("2023-01-01", -2.9197),
    ("2023-03-22", -7.5646),
    ("2023-06-21", -1.3437),
    ("2023-10-17", 14.8034),
]


@pytest.mark.parametrize(("day", "minutes"), EQUATION_OF_TIME)
def test_the_equation_of_time_against_spencer(day, minutes):
    assert equation_of_time_min(day) == pytest.approx(minutes, abs=0.75)


def test_the_equation_of_time_against_the_reference_algorithm():
    # NREL/TP-560-34302's example day: 14.641511 min in the evening (UTC).
    assert equation_of_time_min("2003-10-17") == pytest.approx(14.641511, abs=0.1)


# Haurwitz over whole days at 36 N 5 W by pvlib: kWh/m2, and the share after 14:00 UTC.
DAYS = [
    ("2024-06-21", 36.0, -5.0, 8.7760, 0.31667),
    ("2024-12-21", 36.0, -5.0, 2.9321, 0.22754),
    ("2024-03-20", 36.0, -5.0, 6.1117, 0.29729),
]


def day_kwh(day: str, latitude: float, longitude: float, from_hour: int = 0) -> float:
    first = unix(f"{day}T00:00:00")
    return (
        sum(
            haurwitz_w_m2(sun_position(latitude, longitude, first + 60 * i).zenith_deg)
            for i in range(from_hour * 60, 1440)
        )
        / 60_000.0
    )


@pytest.mark.parametrize(("day", "latitude", "longitude", "kwh", "late"), DAYS)
def test_a_clear_day_gives_what_the_reference_gives(
    day, latitude, longitude, kwh, late
):
    found = day_kwh(day, latitude, longitude)
    assert found == pytest.approx(kwh, rel=2e-3)
    afternoon = day_kwh(day, latitude, longitude, from_hour=14)
    assert afternoon / found == pytest.approx(late, abs=2e-3)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(18.43, -64.62), (-36.1, 175.4), (57.0, -6.5)]
)
@pytest.mark.parametrize("day", ["2024-06-21", "2024-12-21"])
def test_clear_days_at_three_latitudes_and_both_hemispheres(day, latitude, longitude):
    times = pd.date_range(f"{day}T00:00:00", periods=288, freq="300s", tz="UTC")
    sun = pvlib.solarposition.get_solarposition(times, latitude, longitude)
    reference = pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].sum() / 12_000.0
    first = unix(f"{day}T00:00:00")
    found = (
        sum(
            haurwitz_w_m2(sun_position(latitude, longitude, first + 300 * i).zenith_deg)
            for i in range(288)
        )
        / 12_000.0
    )
    assert found == pytest.approx(reference, rel=4e-3)


@pytest.mark.parametrize(
    ("day", "sunrise"),
    [
        ("2024-06-21", "05:03:40"),
        ("2024-12-21", "07:26:55"),
        ("2024-03-20", "06:23:06"),
    ],
)
def test_sunrise_is_when_the_reference_says(day, sunrise):
    # pvlib at 36 N 5 W; its refraction at the horizon is a standard one.
    found = next_sunrise_s(36.0, -5.0, unix(f"{day}T00:00:00"))
    assert found == pytest.approx(unix(f"{day}T{sunrise}"), abs=90)


def test_at_70_north_in_december_the_sun_does_not_rise():
    assert next_sunrise_s(70.0, 19.0, unix("2026-12-15T12:00:00")) is None


def test_under_the_midnight_sun_there_is_no_next_sunrise():
    assert next_sunrise_s(75.0, 19.0, unix("2026-06-20T12:00:00")) is None


def test_a_longer_look_finds_the_first_sunrise_after_the_polar_night():
    at_s = unix("2026-12-15T12:00:00")
    found = next_sunrise_s(70.0, 19.0, at_s, within_s=60 * 86_400.0)
    assert found is not None
    # Tromso's latitude has the sun back in the middle of January (common practice).
    assert unix("2027-01-10") < found < unix("2027-01-25")


@given(st.floats(0, 89.9))
def test_the_lower_the_sun_the_less_it_gives(zenith_deg):
    values = [haurwitz_w_m2(zenith_deg + step) for step in (0.0, 0.05, 0.1)]
    assert all(a >= b for a, b in pairwise(values))


def test_a_power_is_carried_on_in_the_shape_of_the_clear_sky():
    # Clear-sky-shape persistence: 420 W at zenith 40 becomes 522.5914 W at 20 and
    # 263.1283 W at 60 (check calculation with pvlib's Haurwitz).
    per_w_m2 = 420.0 / haurwitz_w_m2(40.0)
    assert per_w_m2 * haurwitz_w_m2(20.0) == pytest.approx(522.5914, abs=1e-3)
    assert per_w_m2 * haurwitz_w_m2(60.0) == pytest.approx(263.1283, abs=1e-3)


def test_the_sunrise_is_found_whatever_the_fraction_of_the_second():
    whole_s = 1_778_500_800.0
    found = next_sunrise_s(38.53, -28.62, whole_s)
    assert found is not None
    for hundredths in range(1, 100, 7):
        again = next_sunrise_s(38.53, -28.62, whole_s + hundredths / 100.0)
        assert again is not None
        assert abs(again - found) <= 1.0
