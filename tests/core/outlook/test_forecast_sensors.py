"""The owner's own solar forecast: sensors by day, hours from a service."""

import json

import pytest

from custom_components.galley_loads.core.boat.boat import Solar
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.outlook.forecast_sensors import (
    forecast_sensor_ids,
    observe_forecast_reading,
)
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.sky.solar_forecast import (
    ForecastPeriod,
    SolarForecast,
)

from .outlook_rig import DAY_S, cooking_boat, unix

AT_S = unix("2026-05-10T06:00:00")
TODAY, TOMORROW = "sensor.sun_today", "sensor.sun_tomorrow"
BOAT = cooking_boat(
    solar=Solar(540.0, (TODAY, "some_service", TOMORROW, "sensor.sun_peak_time"))
)


def energy_wh(outlook: Outlook, day_s: float) -> float:
    forecast = outlook.view().forecast_w
    return sum(w for q, w in forecast.items() if day_s <= q * 900 < day_s + DAY_S) / 4


def told(*readings: tuple[str, str]) -> Outlook:
    outlook = Outlook(BOAT)
    for entity_id, state in readings:
        assert observe_forecast_reading(outlook, Reading(entity_id, state, AT_S))
    return outlook


def test_only_sensors_count_as_forecast_sensors():
    assert forecast_sensor_ids(BOAT) == (TODAY, TOMORROW, "sensor.sun_peak_time")
    assert forecast_sensor_ids(cooking_boat(solar=None)) == ()


@pytest.mark.parametrize("state", ["1.8", "1800"])
def test_today_in_kwh_or_wh_becomes_todays_curve(state):
    outlook = told((TODAY, state))
    assert energy_wh(outlook, unix("2026-05-10")) == pytest.approx(1800.0)
    noon = outlook.view().forecast_w[int(unix("2026-05-10T14:00:00") // 900)]
    morning = outlook.view().forecast_w[int(unix("2026-05-10T08:00:00") // 900)]
    assert noon > 2 * morning > 0.0


def test_the_name_tells_that_it_is_about_tomorrow():
    outlook = told((TODAY, "1.0"), (TOMORROW, "2.2"))
    assert energy_wh(outlook, unix("2026-05-10")) == pytest.approx(1000.0)
    assert energy_wh(outlook, unix("2026-05-11")) == pytest.approx(2200.0)


@pytest.mark.parametrize("state", ["unavailable", "unknown", "", "nan", "-3"])
def test_no_number_leaves_the_last_forecast_standing(state):
    outlook = told((TODAY, "1.5"), (TODAY, state))
    assert energy_wh(outlook, unix("2026-05-10")) == pytest.approx(1500.0)


def test_a_sensor_whose_name_tells_no_day_is_left_aside():
    assert told(("sensor.sun_peak_time", "14")).view().forecast_w == {}


def test_other_readings_are_none_of_its_business():
    assert not observe_forecast_reading(
        Outlook(BOAT), Reading("sensor.bank_soc", "80", AT_S)
    )


def flat(at_s: float) -> float:
    return 100.0


def test_hours_follow_the_clear_sky_within_them():
    forecast = SolarForecast()
    forecast.observe(
        0.0, [ForecastPeriod(0.0, 3600.0, 300.0)], lambda at_s: at_s / 1000.0
    )
    powers = [forecast.power_w[q] for q in range(4)]
    assert sum(powers) / 4 == pytest.approx(300.0)
    assert powers == sorted(powers)


def test_nonsense_periods_are_left_out():
    forecast = SolarForecast()
    forecast.observe(
        0.0,
        [ForecastPeriod(3600.0, 0.0, 5.0), ForecastPeriod(0.0, 3600.0, -5.0)],
        flat,
    )
    forecast.observe(0.0, [ForecastPeriod(0.0, 3600.0, 50.0)], lambda at_s: 0.0)
    assert forecast.power_w == {}


def test_a_day_is_judged_by_what_was_told_before_it_began():
    forecast = SolarForecast()
    forecast.observe(80_000.0, [ForecastPeriod(DAY_S, 2 * DAY_S, 2400.0)], flat)
    before = forecast.told_before_w(96)
    forecast.observe(DAY_S + 7200.0, [ForecastPeriod(DAY_S, 2 * DAY_S, 480.0)], flat)
    assert forecast.told_before_w(110) == before == pytest.approx(100.0)
    assert forecast.power_w[110] == pytest.approx(20.0)


def test_the_past_and_the_far_future_are_forgotten():
    forecast = SolarForecast()
    forecast.observe(0.0, [ForecastPeriod(0.0, 30 * DAY_S, 9000.0)], flat)
    assert max(forecast.power_w) <= 4 * 96
    forecast.observe(3 * DAY_S, [ForecastPeriod(3 * DAY_S, 4 * DAY_S, 900.0)], flat)
    assert min(forecast.power_w) >= 3 * 96


def test_the_forecast_survives_a_restart():
    forecast, again = SolarForecast(), SolarForecast()
    forecast.observe(0.0, [ForecastPeriod(0.0, DAY_S, 900.0)], flat)
    forecast.told_before_w(3)
    again.restore(json.loads(json.dumps(forecast.snapshot())))
    assert again.power_w == pytest.approx(forecast.power_w, abs=0.05)
    assert again.told_before_w(5) == forecast.told_before_w(5)
