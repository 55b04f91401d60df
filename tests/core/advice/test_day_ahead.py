"""The day ahead without a dish, and the sun to spare now."""

from copy import replace
from itertools import pairwise

import pandas as pd
import pvlib
import pytest

from custom_components.galley_loads.core.advice.day_ahead import (
    day_ahead,
    surplus_sun_w,
)
from custom_components.galley_loads.core.advice.departure import (
    SOC_GRAIN,
    SUN_AWAY_S,
    Departure,
)
from custom_components.galley_loads.core.boat.boat import Boat, Sensor, Sensors, Solar
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.outlook.outlook import Outlook
from tests.core.rigs import NOON_S, galley_boat

HOUR_S = 3600.0
MORNING_S = NOON_S - 4 * HOUR_S

SENSORS = Sensors(
    ac_load_power=Sensor("sensor.load"),
    solar_power=(Sensor("sensor.sun"),),
    battery_power=Sensor("sensor.bank"),
    battery_voltage=Sensor("sensor.volts"),
    battery_soc=Sensor("sensor.soc"),
)


def boat(**changes: object) -> Boat:
    return replace(galley_boat(), sensors=SENSORS, solar=Solar(540.0), **changes)


def sample(at_s: float, **values: float | None) -> LoadSample:
    plain = LoadSample(
        at_s, 120.0, solar_w=0.0, battery_w=-134.0, voltage_v=13.0, soc=60.0
    )
    return replace(plain, **values)


def outlook(
    at_s: float, given: Boat | None = None, hours: int = 1, **values: float | None
) -> Outlook:
    """Return what a boat knows that has lain there for some hours."""
    known = Outlook(given or boat())
    for minute in range(-60 * hours, 1):
        known.observe(sample(at_s + 60.0 * minute, **values))
    known.settle_span(at_s - 3600.0 * hours, at_s, 0.0)
    return known


def live(at_s: float, **values: float | None) -> LiveView:
    plain = LiveView(
        at_s, 120.0, 0.0, 120.0, 0.0, 0.0, 0.0, -134.0, 13.0, 60.0, (), None, None
    )
    return replace(plain, **values)


def test_the_sun_by_hour_is_dark_when_the_sun_is_down() -> None:
    """Against the solar position of pvlib (NREL's algorithm)."""
    ahead = day_ahead(outlook(MORNING_S).view(), MORNING_S)
    hours = pd.to_datetime(sorted(ahead.sun_wh), unit="s", utc=True)
    ends = hours + pd.Timedelta(hours=1)
    quarters = [hours + pd.Timedelta(minutes=15 * i) for i in range(5)]
    up = [
        pvlib.solarposition.get_solarposition(times, 38.53, -28.62)
        for times in (*quarters, ends)
    ]
    highest = pd.concat([one["elevation"].reset_index(drop=True) for one in up], axis=1)
    for wh, elevation in zip(
        [ahead.sun_wh[hour] for hour in sorted(ahead.sun_wh)],
        highest.max(axis=1),
        strict=True,
    ):
        assert (wh > 0.0) == (elevation > 0.3) or abs(elevation - 0.3) < 1.5
    assert sum(ahead.sun_wh.values()) > 1000


def test_the_hours_hold_two_days_and_all_of_the_sun() -> None:
    start_s = MORNING_S + 420.0
    ahead = day_ahead(outlook(start_s).view(), start_s)
    hours = sorted(ahead.sun_wh)
    assert hours[0] == start_s // HOUR_S * HOUR_S
    assert len(hours) == 49
    assert [b - a for a, b in pairwise(hours)] == [HOUR_S] * 48
    # The hour that has begun only counts what is left of it.
    later = day_ahead(outlook(start_s + 1800).view(), start_s + 1800)
    assert later.sun_wh[hours[0]] < ahead.sun_wh[hours[0]]


def test_a_night_takes_the_charge_down_until_sunrise() -> None:
    evening_s = NOON_S + 9 * HOUR_S
    ahead = day_ahead(outlook(evening_s, hours=48).view(), evening_s)
    assert ahead.sunrise_s is not None
    hours = (ahead.sunrise_s - evening_s) / HOUR_S
    # 134 W for the night out of 560 Ah at 13 V.
    drop = 134.0 * hours / (560 * 13.0) * 100
    assert ahead.soc_at_sunrise == pytest.approx(60.0 - drop, abs=2.0)
    assert ahead.soc_lowest is not None
    assert ahead.soc_lowest <= ahead.soc_at_sunrise
    assert ahead.lowest_at_s is not None
    assert ahead.lowest_at_s >= ahead.sunrise_s - 900
    assert ahead.full_at_s is None


def test_a_nearly_full_bank_is_full_before_the_evening() -> None:
    known = outlook(NOON_S, soc=95.0, solar_w=400.0, battery_w=260.0)
    ahead = day_ahead(known.view(), NOON_S)
    assert ahead.full_at_s is not None
    assert NOON_S < ahead.full_at_s < NOON_S + 7 * HOUR_S


def test_without_a_charge_there_is_still_a_sun() -> None:
    ahead = day_ahead(outlook(NOON_S, soc=None).view(), NOON_S)
    assert ahead.missing
    assert ahead.soc_lowest is None
    assert ahead.course == ()
    assert sum(ahead.sun_wh.values()) > 1000


def test_a_polar_night_has_no_sunrise() -> None:
    north = boat(latitude=70.0)
    december_s = 1_797_854_400.0
    ahead = day_ahead(outlook(december_s, north).view(), december_s)
    assert ahead.sunrise_s is None
    assert ahead.soc_at_sunrise is None
    assert ahead.soc_lowest is not None
    assert sum(ahead.sun_wh.values()) == 0.0


@pytest.mark.parametrize(
    ("values", "surplus_w"),
    [
        # What goes into the bank could as well cook.
        ({"solar_w": 400.0, "battery_w": 266.0}, 266.0),
        ({"solar_w": 100.0, "battery_w": -34.0}, 0.0),
        # Another charger fills the bank: no more than the sun gives is the sun's.
        ({"solar_w": 50.0, "battery_w": 900.0}, 50.0),
        # Without the bank's power the load tells: 120 W through 90 % and some idle draw.
        ({"solar_w": 400.0, "battery_w": None}, 400.0 - 120.0 / 0.9 - 15.0),
        ({"solar_w": None}, None),
        ({"solar_w": 400.0, "battery_w": None, "load_w": None}, None),
    ],
)
def test_surplus_sun_is_what_nothing_uses(
    values: dict[str, float | None], surplus_w: float | None
) -> None:
    found = surplus_sun_w(outlook(NOON_S).view(), live(NOON_S, **values), 0.8)
    if surplus_w is None:
        assert found is None
    else:
        assert found == pytest.approx(surplus_w, abs=12.0)


def test_a_full_bank_hides_sun_that_could_be_used() -> None:
    known = outlook(NOON_S).view()
    full = live(NOON_S, solar_w=140.0, battery_w=2.0, soc=99.5)
    clear_w = known.clear_power_w(NOON_S)
    found = surplus_sun_w(known, full, 0.9)
    assert found == pytest.approx(0.9 * clear_w - 138.0, abs=1.0)
    assert found > 100
    # At night there is no telling how clear it is, and nothing to spare.
    assert surplus_sun_w(known, full, None) == pytest.approx(2.0)


def test_a_boat_without_an_array_has_no_sun_to_spare() -> None:
    dark = replace(galley_boat(), sensors=replace(SENSORS, solar_power=()), solar=None)
    assert surplus_sun_w(outlook(NOON_S, dark).view(), live(NOON_S), None) == 0.0


# Departures


def expecting(at_s: float) -> Departure:
    known = outlook(at_s, solar_w=300.0)
    return Departure(day_ahead(known.view(), at_s).course, 540.0)


def test_what_goes_as_expected_is_no_departure() -> None:
    watch = expecting(NOON_S)
    ahead = day_ahead(outlook(NOON_S, solar_w=300.0).view(), NOON_S).course
    for minute in range(120):
        at_s = NOON_S + 60.0 * minute
        step = ahead[minute // 15]
        assert not watch.observe(at_s, step.solar_w, step.soc)


def test_a_charge_outside_its_range_is_a_departure_at_once() -> None:
    course = day_ahead(outlook(NOON_S).view(), NOON_S).course
    watch = Departure(course, 540.0)
    low, high = course[0].soc_p10 - SOC_GRAIN, course[0].soc_p90 + SOC_GRAIN
    assert not watch.observe(NOON_S, None, low + 0.1)
    assert watch.observe(NOON_S + 10, None, low - 0.1)
    assert watch.observe(NOON_S + 20, None, high + 0.1)
    assert not watch.observe(NOON_S + 30, None, high - 0.1)


def test_a_passing_cloud_is_none_but_a_lasting_one_is() -> None:
    watch = expecting(NOON_S)
    seen = [watch.observe(NOON_S + 10 * i, 1500.0, None) for i in range(30)]
    assert not any(seen)
    assert not watch.observe(NOON_S + 300, None, None)
    later = [
        at_s
        for i in range(200)
        if watch.observe(at_s := NOON_S + 310 + 10 * i, 1500.0, None)
    ]
    assert later
    assert later[0] >= NOON_S + 310 + SUN_AWAY_S


def test_before_the_course_and_without_one_nothing_departs() -> None:
    assert not expecting(NOON_S).observe(NOON_S - 60, 5000.0, 0.0)
    assert not Departure((), 540.0).observe(NOON_S, 5000.0, 0.0)
