"""The sun: our outlook for the energy dashboard, other people's forecasts for us."""

from types import SimpleNamespace
from typing import Any

from homeassistant.components.energy.data import async_get_manager
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry, mock_platform
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.metering.quarter_hours import QUARTER_S
from custom_components.galley_loads.energy import async_get_solar_forecast

from .at_home import KITTIWAKE, boat_entry, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


def with_solar(**solar: Any) -> dict[str, Any]:
    return {**KITTIWAKE, "solar": {"array_power": 540, **solar}}


def forecast_w(entry: MockConfigEntry) -> dict[int, float]:
    """Return the forecast that the outlook works with, W by quarter hour."""
    view = entry.runtime_data.coordinator._engine.outlook().view()
    return dict(view.forecast_w)


def told_wh(entry: MockConfigEntry, start: str, hours: float) -> float:
    """Return the energy that the outlook expects in a span of time by a forecast."""
    parsed = dt_util.parse_datetime(start)
    assert parsed is not None
    first = int(parsed.timestamp() // QUARTER_S)
    told = forecast_w(entry)
    return sum(told.get(first + i, 0.0) / 4 for i in range(int(4 * hours)))


async def test_the_energy_dashboard_is_offered_our_sun(
    hass: HomeAssistant,
    day: GalleyDay,
    hass_ws_client: WebSocketGenerator,
) -> None:
    assert await async_setup_component(hass, "energy", {})
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    manager = await async_get_manager(hass)
    source = {
        "type": "solar",
        "stat_energy_from": "sensor.array_energy",
        "config_entry_solar_forecast": [entry.entry_id],
    }
    await manager.async_update({"energy_sources": [source]})
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "energy/info"})
    info = await client.receive_json()
    assert DOMAIN in info["result"]["solar_forecast_domains"]
    await client.send_json_auto_id({"type": "energy/solar_forecast"})
    answer = await client.receive_json()
    hours = answer["result"][entry.entry_id]["wh_hours"]
    times = [dt_util.parse_datetime(text) for text in hours]
    assert times[0] == dt_util.parse_datetime("2026-05-11T11:00:00+00:00")
    assert all(at is not None and at.minute == 0 for at in times)
    # 540 W of panels: no hour beats them, and a May day gives a kilowatt-hour at least.
    assert max(hours.values()) < 540
    assert 1000 < sum(hours.values()) < 2 * 540 * 15
    assert hours["2026-05-12T02:00:00+00:00"] == 0


async def test_hours_that_are_over_stay_as_they_were_told(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    before = await async_get_solar_forecast(hass, entry.entry_id)
    assert before is not None
    await day.live(5400, step_s=60)
    after = await async_get_solar_forecast(hass, entry.entry_id)
    assert after is not None
    noon = "2026-05-11T11:00:00+00:00"
    assert after["wh_hours"][noon] == before["wh_hours"][noon]
    assert len(after["wh_hours"]) > len(before["wh_hours"])


async def test_without_a_boat_or_an_array_there_is_no_forecast(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    assert await async_get_solar_forecast(hass, "nobody") is None
    stranger = MockConfigEntry(domain="stranger")
    stranger.add_to_hass(hass)
    assert await async_get_solar_forecast(hass, stranger.entry_id) is None
    sensors = {k: v for k, v in KITTIWAKE["sensors"].items() if k != "solar_power"}
    dark = {k: v for k, v in KITTIWAKE.items() if k != "solar"} | {"sensors": sensors}
    entry = await start_boat(hass, boat_entry(dark))
    await day.live(20)
    assert await async_get_solar_forecast(hass, entry.entry_id) is None
    await hass.config_entries.async_unload(entry.entry_id)
    assert await async_get_solar_forecast(hass, entry.entry_id) is None


# Forecasts for us


def set_forecast(hass: HomeAssistant, entity_id: str, value: Any, unit: str) -> None:
    hass.states.async_set(entity_id, str(value), {"unit_of_measurement": unit})


async def test_named_sensors_are_read_with_their_units(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    set_forecast(hass, "sensor.sun_today", 2.5, "kWh")
    set_forecast(hass, "sensor.sun_tomorrow", 1800, "Wh")
    names = ["sensor.sun_today", "sensor.sun_tomorrow"]
    entry = await start_boat(hass, boat_entry(with_solar(forecast=names)))
    await day.live(60)
    assert told_wh(entry, "2026-05-11T00:00:00+00:00", 24) == pytest.approx(2500)
    assert told_wh(entry, "2026-05-12T00:00:00+00:00", 24) == pytest.approx(1800)


@pytest.mark.parametrize(
    ("entity_id", "value", "unit"),
    [
        ("sensor.sun_today", "unavailable", "kWh"),
        ("sensor.sun_today", "-3", "kWh"),
        ("sensor.sun_today", "nan", "kWh"),
        ("sensor.sun_today", "3", "m"),
        ("sensor.some_sun", "3", "kWh"),
    ],
)
async def test_what_makes_no_sense_is_left_out(
    hass: HomeAssistant,
    day: GalleyDay,
    caplog: pytest.LogCaptureFixture,
    entity_id: str,
    value: str,
    unit: str,
) -> None:
    set_forecast(hass, entity_id, value, unit)
    entry = await start_boat(hass, boat_entry(with_solar(forecast=[entity_id])))
    await day.live(1200, step_s=60)
    assert forecast_w(entry) == {}
    warnings = caplog.text.count("its name does not tell")
    assert warnings == (1 if entity_id == "sensor.some_sun" else 0)


def offer_forecast(
    hass: HomeAssistant, wh_hours: dict[str, float] | Exception | None
) -> MockConfigEntry:
    """Return the loaded entry of a stranger that offers a solar forecast."""

    async def forecast(_: HomeAssistant, entry_id: str) -> Any:
        if isinstance(wh_hours, Exception):
            raise wh_hours
        return None if wh_hours is None else {"wh_hours": wh_hours}

    hass.config.components.add("stranger")
    mock_platform(
        hass, "stranger.energy", SimpleNamespace(async_get_solar_forecast=forecast)
    )
    stranger = MockConfigEntry(domain="stranger")
    stranger.add_to_hass(hass)
    stranger.mock_state(hass, stranger.state.LOADED)
    return stranger


HOURS = {
    "2026-05-11T12:00:00+00:00": 300,
    "2026-05-11T13:00:00+00:00": 280,
    "2026-05-11T14:00:00+00:00": -5,
    "noon": 7,
}


async def use_in_dashboard(hass: HomeAssistant, entry_ids: list[str] | None) -> None:
    manager = await async_get_manager(hass)
    source = {
        "type": "solar",
        "stat_energy_from": "sensor.array_energy",
        "config_entry_solar_forecast": entry_ids,
    }
    await manager.async_update({"energy_sources": [source]})


async def test_the_dashboards_own_forecast_is_used(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    assert await async_setup_component(hass, "energy", {})
    stranger = offer_forecast(hass, HOURS)
    await use_in_dashboard(hass, [stranger.entry_id])
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    assert told_wh(entry, "2026-05-11T12:00:00+00:00", 1) == pytest.approx(300)
    assert told_wh(entry, "2026-05-11T13:00:00+00:00", 1) == pytest.approx(280)
    # A forecast narrows the outlook to what it tells.
    hours = (await async_get_solar_forecast(hass, entry.entry_id) or {})["wh_hours"]
    assert hours["2026-05-11T12:00:00+00:00"] == pytest.approx(300, rel=0.35)


async def test_a_named_service_is_asked_though_the_dashboard_has_another(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    assert await async_setup_component(hass, "energy", {})
    offer_forecast(hass, HOURS)
    await use_in_dashboard(hass, None)
    entry = await start_boat(hass, boat_entry(with_solar(forecast="stranger")))
    await day.live(60)
    assert told_wh(entry, "2026-05-11T12:00:00+00:00", 1) == pytest.approx(300)


@pytest.mark.parametrize("offered", [None, {}, ValueError("no sun today")])
async def test_a_stranger_without_a_forecast_does_no_harm(
    hass: HomeAssistant, day: GalleyDay, offered: Any
) -> None:
    assert await async_setup_component(hass, "energy", {})
    stranger = offer_forecast(hass, offered)
    await use_in_dashboard(hass, [stranger.entry_id, "nobody"])
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    assert forecast_w(entry) == {}
    assert float(hass.states.get("sensor.kittiwake_lowest_charge_ahead").state) > 0


async def test_our_own_forecast_is_never_taken_for_anothers(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    assert await async_setup_component(hass, "energy", {})
    entry = boat_entry()
    await use_in_dashboard(hass, [entry.entry_id])
    await start_boat(hass, entry)
    await day.live(1800, step_s=60)
    assert forecast_w(entry) == {}


# Position


def lies_at(entry: MockConfigEntry) -> tuple[float, float]:
    return entry.runtime_data.coordinator._engine.outlook().view().position


async def test_the_boats_tracker_tells_where_the_sun_stands(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    def place(latitude: Any, longitude: Any) -> None:
        hass.states.async_set(
            "device_tracker.boat",
            "away",
            {"latitude": latitude, "longitude": longitude},
        )

    mapping = {
        **KITTIWAKE,
        "sensors": {**KITTIWAKE["sensors"], "position": "device_tracker.boat"},
    }
    place(37.74, -25.67)
    entry = await start_boat(hass, boat_entry(mapping))
    await day.live(60)
    assert lies_at(entry) == (37.74, -25.67)
    for latitude, longitude in (
        (None, 3.0),
        ("x", "y"),
        (95.0, 10.0),
        (37.741, -25.67),
    ):
        place(latitude, longitude)
        await day.live(960, step_s=60)
        assert lies_at(entry) == (37.74, -25.67)
    place(36.96, -25.09)
    await day.live(960, step_s=60)
    assert lies_at(entry) == (36.96, -25.09)


async def test_a_boat_without_a_tracker_lies_where_she_was_said_to(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    entry = await start_boat(hass, boat_entry())
    await day.live(60)
    assert lies_at(entry) == (38.53, -28.62)
