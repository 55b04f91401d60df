"""Events: entities that tell what the galley does, once and as it happens."""

from homeassistant.core import Event, EventStateChangedData, HomeAssistant, callback
from homeassistant.helpers.event import async_track_state_change_event
import pytest

from .at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    VOLTAGE,
    boat_at_rest,
    boat_entry,
    start_boat,
)
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

KETTLE = "event.kettle_activity"
OVEN = "event.oven_activity"
MEAL = "event.kittiwake_meal"
WARNING = "event.kittiwake_warning"


def told(hass: HomeAssistant, *entity_ids: str) -> list[tuple[str, str]]:
    """Return a list that fills with what these entities tell from now on."""
    heard: list[tuple[str, str]] = []

    @callback
    def note(event: Event[EventStateChangedData]) -> None:
        old, new = event.data["old_state"], event.data["new_state"]
        if old is None or new is None or new.state == old.state:
            return
        if "unavailable" not in (old.state, new.state):
            heard.append((new.entity_id, new.attributes["event_type"]))

    async_track_state_change_event(hass, entity_ids, note)
    return heard


async def test_a_kettle_tells_its_start_and_its_end(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    heard = told(hass, KETTLE, OVEN)
    await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    assert hass.states.get(KETTLE).state == "unknown"
    await day.live(240, 1620)
    assert heard == [(KETTLE, "started")]
    started = hass.states.get(KETTLE)
    assert started.attributes["started"].startswith("2026-05-11T11:05:")
    await day.live(300, 120)
    assert heard == [(KETTLE, "started"), (KETTLE, "finished")]
    assert hass.states.get(KETTLE).attributes["minutes"] == pytest.approx(4.0, abs=0.5)


async def test_an_oven_tells_that_it_is_hot(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    heard = told(hass, OVEN, MEAL)
    await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(600, 2120)
    for _ in range(5):
        await day.live(120, 120)
        await day.live(60, 2120)
    # A thermostat may rest for minutes: that it was turned off shows only later.
    await day.live(2100, 120, step_s=30)
    assert [kind for _, kind in heard] == ["started", "at_temperature", "finished"]
    await day.live(3900, 120, step_s=60)
    assert heard[3:] == [(MEAL, "finished")]
    meal = hass.states.get(MEAL).attributes
    assert meal["subject"] == "lunch"
    assert meal["appliances"] == "Oven"
    # Ten minutes and five times one minute of 2000 W.
    assert meal["energy_wh"] == pytest.approx(500, rel=0.02)
    assert meal["bank_ah"] == pytest.approx(500 / 0.92 / 13.005, rel=0.02)
    assert meal["sun_share"] == 0.0


async def test_a_cup_of_tea_is_a_hot_drink(hass: HomeAssistant, day: GalleyDay) -> None:
    heard = told(hass, MEAL)
    await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(240, 1620)
    await day.live(4800, 120, step_s=60)
    assert heard == [(MEAL, "hot_drink")]
    # The label in the meal book is in words; the sensor's state has a translation.
    assert hass.states.get(MEAL).attributes["subject"] == "hot drink"
    assert hass.states.get("sensor.kittiwake_last_meal").state == "hot_drink"


async def test_a_reload_tells_nothing_twice(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    heard = told(hass, OVEN)
    entry = await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(300, 2120)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    await day.live(300)
    assert heard == [(OVEN, "started")]
    await day.live(1200, 120, step_s=30)
    kinds = [kind for _, kind in heard]
    assert kinds[0] == "started"
    assert kinds[-1] == "finished"
    assert len(set(kinds)) == len(kinds)


async def test_what_runs_when_the_boat_is_set_up_is_no_news(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    heard = told(hass, OVEN, KETTLE, MEAL, WARNING)
    await day.live(60, 2120)
    await start_boat(hass, boat_entry())
    await day.live(300)
    assert heard == []


async def test_a_warning_names_the_circuit_that_draws_on(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    mapping = {
        **KITTIWAKE,
        "appliances": [
            {**KITTIWAKE["appliances"][0], "standby_power": 12},
            KITTIWAKE["appliances"][1],
        ],
    }
    heard = told(hass, WARNING)
    await start_boat(hass, boat_entry(mapping))
    await day.live(300, step_s=60)
    await day.live(240, 1620)
    await day.live(1200, 120)
    assert heard == [(WARNING, "standby_left_on")]
    warning = hass.states.get(WARNING).attributes
    assert warning["subject"] == "Galley 1"
    assert warning["standby_w"] == 12.0


async def test_events_stay_there_while_the_sensors_are_away(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    await day.live(60)
    day.lost |= {LOAD, CURRENT, VOLTAGE}
    await day.live(20)
    assert hass.states.get("sensor.kittiwake_galley_power").state == "unavailable"
    for entity_id in (KETTLE, OVEN, MEAL, WARNING):
        assert hass.states.get(entity_id).state == "unknown", entity_id


async def test_only_what_heats_to_a_temperature_can_tell_of_it(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    await start_boat(hass, boat_entry())
    oven = hass.states.get(OVEN).attributes["event_types"]
    kettle = hass.states.get(KETTLE).attributes["event_types"]
    assert oven == ["started", "at_temperature", "finished", "left_running"]
    assert kettle == ["started", "finished", "left_running"]


async def test_cooking_that_takes_the_reserve_is_warned_of(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    heard = told(hass, WARNING)
    day.at_s = 9 * 3600.0
    day.freezer.tick(day.at_s)
    await boat_at_rest(hass)
    await day.live(300, soc=38.0, solar_w=0.0)
    await day.live(900, 2120)
    assert heard == [(WARNING, "reserve_at_risk")]
    warning = hass.states.get(WARNING).attributes
    assert warning["lowest_soc"] < 35
    assert 0.6 <= warning["chance"] <= 1.0
    assert warning["lowest_at"] > "2026-05-11T20:15"
