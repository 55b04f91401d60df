"""Logbook: what a reader finds there of the galley."""

from types import SimpleNamespace
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockUser, async_capture_events
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from pytest_homeassistant_custom_component.typing import (
    MockHAClientWebSocket,
    WebSocketGenerator,
)

from custom_components.galley_loads.const import EVENT_OCCURRENCE
from custom_components.galley_loads.core.occasions.event_filter import AutomationEvent
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.logbook import describe_meal
from custom_components.galley_loads.watch.event_reports import IN_LOGBOOK

from .at_home import boat_entry, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


async def lines(
    hass: HomeAssistant, client: MockHAClientWebSocket, *names: str
) -> list[dict[str, Any]]:
    """Return the logbook's lines under these names, as the interface asks for them."""
    await async_wait_recording_done(hass)
    await client.send_json_auto_id(
        {
            "type": "logbook/get_events",
            "start_time": "2026-05-11T00:00:00+00:00",
            "end_time": "2026-05-12T00:00:00+00:00",
        }
    )
    answer = await client.receive_json()
    assert answer["success"], answer
    return [
        one
        for one in answer["result"]
        if one.get("name") in names and one.get("message")
    ]


async def test_the_logbook_tells_of_the_run_and_of_its_meal(
    hass: HomeAssistant,
    day: GalleyDay,
    hass_ws_client: WebSocketGenerator,
    hass_admin_user: MockUser,
) -> None:
    assert await async_setup_component(hass, "logbook", {})
    await start_boat(hass, boat_entry())
    await day.live(300, step_s=60)
    await day.live(240, 1620)
    await day.live(4800, 120, step_s=60)
    # A login lasts half an hour; the reader's is from the beginning of the day.
    (refresh_token,) = hass_admin_user.refresh_tokens.values()
    token = hass.auth.async_create_access_token(refresh_token)
    client = await hass_ws_client(hass, token)
    run, meal = await lines(hass, client, "Kettle", "Kittiwake")
    assert run["name"] == "Kettle"
    assert run["message"] == "ran for 4 minutes and took 100 Wh"
    assert run["entity_id"] == "binary_sensor.kettle_running"
    assert meal["name"] == "Kittiwake"
    assert meal["message"] == (
        "finished hot drink: 100 Wh, 8.4 Ah at the bank, 0 % from the sun"
    )


NEWS = [
    (
        AutomationEvent(
            OccurrenceKind.ADVICE_CHANGED,
            "Bread",
            0.0,
            {"before": "wait", "verdict": "cook_now"},
        ),
        "advises to cook now with Bread, no longer to wait",
        "event.kittiwake_advice_changed",
    ),
    (
        AutomationEvent(
            OccurrenceKind.STANDBY_LEFT_ON,
            "Galley 1",
            0.0,
            {"idle_minutes": 10.2, "standby_w": 19.7},
        ),
        "warned: Galley 1 has been idle for 10 minutes and draws 20 W",
        "event.kittiwake_warning",
    ),
    (
        AutomationEvent(
            OccurrenceKind.RESERVE_AT_RISK,
            "",
            0.0,
            {"lowest_soc": 28.4, "lowest_at_s": 1_778_560_000.0, "chance": 0.8},
        ),
        "warned: what is cooking may take the bank to 28 % before the morning",
        "event.kittiwake_warning",
    ),
    (
        AutomationEvent(
            OccurrenceKind.OVERLOAD_NEAR,
            "inverter",
            0.0,
            {"load_w": 2400.0, "advice": "2,400 W of 2,500 W."},
        ),
        "warned: inverter is near its limit. 2,400 W of 2,500 W.",
        "event.kittiwake_warning",
    ),
]


async def test_warnings_and_changed_advice_have_a_line(
    hass: HomeAssistant, day: GalleyDay, hass_ws_client: WebSocketGenerator
) -> None:
    heard = async_capture_events(hass, EVENT_OCCURRENCE)
    entry = await start_boat(hass, boat_entry())
    assert await async_setup_component(hass, "logbook", {})
    client = await hass_ws_client(hass)
    assert {news.kind for news, _, _ in NEWS} == IN_LOGBOOK
    for news, _, _ in NEWS:
        day.freezer.tick(1)
        entry.runtime_data.reports.async_report(news)
    await hass.async_block_till_done()
    day.freezer.tick(1)
    found = await lines(hass, client, "Kittiwake")
    assert [(one["message"], one["entity_id"]) for one in found] == [
        (message, entity_id) for _, message, entity_id in NEWS
    ]
    assert heard[2].data["lowest_at"] == "2026-05-12T04:26:40+00:00"


def test_a_planned_dish_is_told_with_what_was_expected() -> None:
    data = {
        "boat": "Kittiwake",
        "label": "lunch",
        "energy_wh": 460.0,
        "bank_ah": 38.0,
        "dish": "Bread",
        "expected_wh": 500.0,
    }
    line = describe_meal(SimpleNamespace(data=data))
    assert line["message"] == (
        "finished lunch: 460 Wh, 38.0 Ah at the bank; 500 Wh were expected of Bread"
    )
