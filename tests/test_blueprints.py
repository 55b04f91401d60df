"""Blueprints: each can be imported, used as it is, and does what it says."""

import asyncio
from pathlib import Path
from typing import Any
from unittest.mock import patch
from urllib.parse import quote

from homeassistant.components.automation.config import AUTOMATION_BLUEPRINT_SCHEMA
from homeassistant.components.blueprint import Blueprint, DomainBlueprints
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.helpers import device_registry as dr
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import load_yaml_dict
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_mock_service,
)

from custom_components.galley_loads.core.occasions.event_filter import AutomationEvent
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind

from .at_home import boat_entry, later, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "blueprints" / "automation" / "galley_loads"
NAMES = sorted(path.name for path in FOLDER.glob("*.yaml"))
WARNING = "event.kittiwake_warning"
SURPLUS = "sensor.kittiwake_surplus_sun"


def blueprint(name: str) -> Blueprint:
    path = FOLDER / name
    return Blueprint(
        load_yaml_dict(path),
        path=name,
        expected_domain="automation",
        schema=AUTOMATION_BLUEPRINT_SCHEMA,
    )


async def use(hass: HomeAssistant, name: str, **inputs: Any) -> None:
    """Set an automation up from a blueprint of ours."""
    made = await hass.async_add_executor_job(blueprint, name)
    with patch.object(DomainBlueprints, "async_get_blueprint", return_value=made):
        assert await async_setup_component(
            hass,
            "automation",
            {"automation": {"use_blueprint": {"path": name, "input": inputs}}},
        )
    await hass.async_block_till_done()
    assert hass.states.async_entity_ids("automation")


async def tell(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    kind: OccurrenceKind,
    subject: str,
    **details: Any,
) -> None:
    entry.runtime_data.reports.async_report(
        AutomationEvent(kind, subject, 0.0, details)
    )
    await hass.async_block_till_done()


@pytest.mark.parametrize("name", NAMES)
def test_it_says_where_it_comes_from_and_the_manual_links_there(name: str) -> None:
    found = blueprint(name)
    url = found.metadata["source_url"]
    assert url.endswith(f"/blueprints/automation/galley_loads/{name}")
    assert found.metadata["homeassistant"]["min_version"] == "2026.10.0"
    manual = (ROOT / "docs" / "automations.md").read_text()
    assert f"blueprint_import/?blueprint_url={quote(url, safe='')}" in manual


@pytest.mark.parametrize("name", NAMES)
def test_every_input_is_explained(name: str) -> None:
    inputs = blueprint(name).inputs
    assert inputs
    assert all(one["name"] and one["description"] for one in inputs.values())


def messages(calls: list[ServiceCall]) -> list[tuple[str, str]]:
    return [(call.data["title"], call.data["message"]) for call in calls]


async def test_the_phone_hears_of_the_oven_and_of_the_reserve(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    calls = async_mock_service(hass, "notify", "send_message")
    entry = await start_boat(hass, boat_entry())
    await use(
        hass,
        "phone_alerts.yaml",
        receivers=["notify.phone"],
        activities=["event.oven_activity"],
        warnings=[WARNING],
    )
    await tell(hass, entry, OccurrenceKind.STARTED, "Oven")
    await tell(hass, entry, OccurrenceKind.FINISHED, "Kettle")
    assert calls == []
    await tell(hass, entry, OccurrenceKind.AT_TEMPERATURE, "Oven")
    await tell(hass, entry, OccurrenceKind.FINISHED, "Oven")
    await tell(hass, entry, OccurrenceKind.LEFT_RUNNING, "Oven")
    await tell(hass, entry, OccurrenceKind.RESERVE_AT_RISK, "", lowest_soc=28.4)
    await tell(
        hass,
        entry,
        OccurrenceKind.OVERLOAD_NEAR,
        "inverter",
        advice="2,400 W of 2,500 W.",
    )
    assert messages(calls) == [
        ("Oven", "Oven is at temperature."),
        ("Oven", "Oven is done."),
        ("Oven", "Oven may have been left on, please have a look."),
        (
            "The bank may not last the night",
            "With what is cooking it may fall to 28 %.",
        ),
        ("Near the limit", "2,400 W of 2,500 W."),
    ]
    assert calls[0].data["entity_id"] == ["notify.phone"]


@pytest.mark.parametrize("chosen", ["activities", "warnings"])
async def test_the_phone_hears_of_what_was_chosen_alone(
    hass: HomeAssistant,
    day: GalleyDay,
    caplog: pytest.LogCaptureFixture,
    chosen: str,
) -> None:
    calls = async_mock_service(hass, "notify", "send_message")
    entry = await start_boat(hass, boat_entry())
    event = {"activities": "event.oven_activity", "warnings": WARNING}[chosen]
    await use(
        hass, "phone_alerts.yaml", receivers=["notify.phone"], **{chosen: [event]}
    )
    assert "when setting up triggers" not in caplog.text
    await tell(hass, entry, OccurrenceKind.FINISHED, "Oven")
    await tell(hass, entry, OccurrenceKind.RESERVE_AT_RISK, "", lowest_soc=28.4)
    (message,) = messages(calls)
    assert message[0].startswith("Oven" if chosen == "activities" else "The bank")


async def test_the_sun_is_told_of_once_it_has_lasted(
    hass: HomeAssistant, day: GalleyDay
) -> None:
    calls = async_mock_service(hass, "notify", "send_message")
    entry = await start_boat(hass, boat_entry())
    await day.live(120, solar_w=100.0)
    await use(
        hass,
        "cook_when_the_sun_is_out.yaml",
        receivers=["notify.phone"],
        surplus=SURPLUS,
        advice_event="event.kittiwake_advice_changed",
        cooking="binary_sensor.kittiwake_cooking",
    )
    await day.live(300, solar_w=480.0)
    assert calls == []
    await day.live(480)
    # 480 W of sun less 120 W of load through the inverter.
    assert messages(calls) == [
        ("The sun would cook it", "There are 350 W of sun to spare.")
    ]
    change = {"before": "wait", "verdict": "cook_now"}
    await tell(hass, entry, OccurrenceKind.ADVICE_CHANGED, "Bread", **change)
    assert messages(calls)[1:] == [("The sun would cook it", "Bread can start now.")]
    # Whoever cooks already needs no telling.
    await day.live(120, 1620)
    await tell(hass, entry, OccurrenceKind.ADVICE_CHANGED, "Bread", **change)
    assert len(calls) == 2


@pytest.fixture
def phone(hass: HomeAssistant, device_registry: dr.DeviceRegistry) -> str:
    """The device of a phone."""
    app = MockConfigEntry(domain="mobile_app")
    app.add_to_hass(hass)
    return device_registry.async_get_or_create(
        config_entry_id=app.entry_id,
        identifiers={("mobile_app", "phone")},
        name="Mate's phone",
    ).id


@pytest.mark.parametrize(
    ("pressed", "cuts"), [("CUT", True), ("KEEP", False), (None, False)]
)
async def test_a_circuit_is_cut_only_when_somebody_says_so(
    hass: HomeAssistant,
    day: GalleyDay,
    phone: str,
    pressed: str | None,
    cuts: bool,
) -> None:
    asked = async_mock_service(hass, "notify", "mobile_app_mate_s_phone")
    entry = await start_boat(hass, boat_entry())
    cut = async_mock_service(hass, "galley_loads", "cut_now")
    await use(hass, "cut_standby_after_asking.yaml", warnings=WARNING, phone=phone)
    left_on = AutomationEvent(
        OccurrenceKind.STANDBY_LEFT_ON, "Galley 1", 0.0, {"standby_w": 19.7}
    )
    entry.runtime_data.reports.async_report(left_on)
    await breathe()
    (question,) = asked
    assert question.data["title"] == "Galley 1 is still on"
    assert "20 W" in question.data["message"]
    buttons = question.data["data"]["actions"]
    assert len({button["action"] for button in buttons}) == 2
    # A stranger's button is nobody's answer.
    hass.bus.async_fire("mobile_app_notification_action", {"action": "CUT_other"})
    await breathe()
    assert cut == []
    if pressed is None:
        await later(hass, day.freezer, 1860)
    else:
        (action,) = [b["action"] for b in buttons if b["action"].startswith(pressed)]
        hass.bus.async_fire("mobile_app_notification_action", {"action": action})
    await hass.async_block_till_done()
    assert [call.data["circuit"] for call in cut] == (["Galley 1"] if cuts else [])
    taken_back = [c for c in asked[1:] if c.data["message"] == "clear_notification"]
    assert len(taken_back) == (0 if cuts else 1)


async def breathe() -> None:
    """Let everything happen that needs no time; the automation goes on waiting."""
    for _ in range(50):
        await asyncio.sleep(0)


def test_no_blueprint_switches_anything_on() -> None:
    for name in NAMES:
        text = (FOLDER / name).read_text()
        assert "turn_on" not in text
        assert "toggle" not in text
