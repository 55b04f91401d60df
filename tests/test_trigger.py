"""Triggers: a YAML automation that waits for what a galley does."""

from typing import Any

from homeassistant.components.automation import DOMAIN as AUTOMATION_DOMAIN
from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers.trigger import async_get_all_descriptions
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import parse_yaml
import pytest
from pytest_homeassistant_custom_component.common import async_mock_service

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.occasions.event_filter import AutomationEvent
from custom_components.galley_loads.core.occasions.occurrence import (
    OF_RUNS,
    OccurrenceKind,
)
from custom_components.galley_loads.trigger import TRIGGERS

from .at_home import boat_entry, start_boat, subentry_id
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


@pytest.fixture
def calls(hass: HomeAssistant) -> list[ServiceCall]:
    """What the automations did."""
    return async_mock_service(hass, "test", "automation")


async def automate(hass: HomeAssistant, yaml: str) -> None:
    """Set automations up from YAML text."""
    assert await async_setup_component(
        hass, AUTOMATION_DOMAIN, {AUTOMATION_DOMAIN: parse_yaml(yaml)}
    )
    await hass.async_block_till_done()


def told_by(calls: list[ServiceCall]) -> list[dict[str, Any]]:
    return [dict(call.data) for call in calls]


async def test_a_yaml_automation_hears_the_kettle(
    hass: HomeAssistant, day: GalleyDay, calls: list[ServiceCall]
) -> None:
    await start_boat(hass, boat_entry())
    await automate(
        hass,
        """
        - triggers:
            - trigger: galley_loads.appliance_started
              target: {entity_id: event.kettle_activity}
              id: started
            - trigger: galley_loads.appliance_finished
              target: {entity_id: event.kettle_activity}
              id: finished
          actions:
            - action: test.automation
              data:
                what: "{{ trigger.id }}"
                minutes: "{{ trigger.to_state.attributes.minutes | default(0) | round }}"
        """,
    )
    await day.live(300, step_s=60)
    await day.live(240, 1620)
    await day.live(300, 120)
    assert told_by(calls) == [
        {"what": "started", "minutes": 0},
        {"what": "finished", "minutes": 4},
    ]


async def test_the_boats_device_stands_for_all_its_news(
    hass: HomeAssistant,
    device_registry: dr.DeviceRegistry,
    day: GalleyDay,
    calls: list[ServiceCall],
) -> None:
    entry = await start_boat(hass, boat_entry())
    boat = device_registry.async_get_device_by_identifier(
        (DOMAIN, entry.entry_id), entry.entry_id
    )
    await automate(
        hass,
        f"""
        - triggers:
            - trigger: galley_loads.meal_finished
              target: {{device_id: {boat.id}}}
          actions:
            - action: test.automation
              data:
                meal: "{{{{ trigger.to_state.attributes.subject }}}}"
        """,
    )
    # A cup of tea is no meal, and a warning none either.
    for one in EVERYTHING:
        if one.kind is not OccurrenceKind.MEAL_FINISHED:
            entry.runtime_data.reports.async_report(one)
    await hass.async_block_till_done()
    assert calls == []
    entry.runtime_data.reports.async_report(news(OccurrenceKind.MEAL_FINISHED, "lunch"))
    await hass.async_block_till_done()
    assert told_by(calls) == [{"meal": "lunch"}]


def news(kind: OccurrenceKind, subject: str, **details: Any) -> AutomationEvent:
    return AutomationEvent(kind, subject, 0.0, details)


EVERYTHING = [
    news(OccurrenceKind.STARTED, "Oven"),
    news(OccurrenceKind.AT_TEMPERATURE, "Oven"),
    news(OccurrenceKind.FINISHED, "Oven"),
    news(OccurrenceKind.LEFT_RUNNING, "Oven"),
    news(OccurrenceKind.MEAL_FINISHED, "dinner"),
    news(OccurrenceKind.HOT_DRINK_FINISHED, "hot drink"),
    news(OccurrenceKind.ADVICE_CHANGED, "Bread", verdict="cook_now", before="wait"),
    news(OccurrenceKind.STANDBY_LEFT_ON, "Galley 1"),
    news(OccurrenceKind.RESERVE_AT_RISK, ""),
    news(OccurrenceKind.OVERLOAD_NEAR, "inverter"),
]


async def test_each_trigger_fires_on_its_own_news_alone(
    hass: HomeAssistant, day: GalleyDay, calls: list[ServiceCall]
) -> None:
    entry = await start_boat(hass, boat_entry())
    everywhere = (
        "[event.oven_activity, event.kettle_activity, event.kittiwake_meal,"
        " event.kittiwake_warning, event.kittiwake_advice_changed,"
        " sensor.kittiwake_galley_power]"
    )
    await automate(
        hass,
        "".join(
            f"""
        - triggers:
            - trigger: galley_loads.{name}
              target: {{entity_id: {everywhere}}}
          actions:
            - action: test.automation
              data: {{what: {name}}}
        """
            for name in TRIGGERS
        ),
    )
    for one in EVERYTHING:
        entry.runtime_data.reports.async_report(one)
        await hass.async_block_till_done()
    heard = [call.data["what"] for call in calls]
    assert heard == [
        f"appliance_{one.kind.value}" if one.kind in OF_RUNS else one.kind.value
        for one in EVERYTHING
        if one.kind is not OccurrenceKind.HOT_DRINK_FINISHED
    ]


@pytest.mark.parametrize(
    ("wanted", "fires"),
    [("any", 2), ("cook_now", 1), ("hold_off", 1), ("wait", 0)],
)
async def test_a_change_of_advice_may_be_awaited_in_one_direction(
    hass: HomeAssistant,
    day: GalleyDay,
    calls: list[ServiceCall],
    wanted: str,
    fires: int,
) -> None:
    entry = await start_boat(hass, boat_entry())
    await automate(
        hass,
        f"""
        - triggers:
            - trigger: galley_loads.advice_changed
              target: {{entity_id: event.kittiwake_advice_changed}}
              options: {{advice: {wanted}}}
          actions:
            - action: test.automation
        """,
    )
    for before, verdict in (("wait", "cook_now"), ("cook_now", "hold_off")):
        change = news(
            OccurrenceKind.ADVICE_CHANGED, "Bread", before=before, verdict=verdict
        )
        entry.runtime_data.reports.async_report(change)
        await hass.async_block_till_done()
    assert len(calls) == fires


async def test_an_advice_that_there_is_not_is_refused(
    hass: HomeAssistant, caplog: pytest.LogCaptureFixture
) -> None:
    await start_boat(hass, boat_entry())
    await automate(
        hass,
        """
        - triggers:
            - trigger: galley_loads.advice_changed
              target: {entity_id: event.kittiwake_advice_changed}
              options: {advice: perhaps}
          actions: []
        """,
    )
    allowed = "value must be one of ['any', 'cook_now', 'hold_off', 'wait']"
    assert f"{allowed} at 'options.advice'" in caplog.text
    assert hass.states.get("automation.automation_0").state == "unavailable"


async def test_other_entities_do_not_fire(
    hass: HomeAssistant, day: GalleyDay, calls: list[ServiceCall]
) -> None:
    await start_boat(hass, boat_entry())
    hass.states.async_set("event.stranger", "2026-05-11T11:00:00", {"event_type": "x"})
    await automate(
        hass,
        """
        - triggers:
            - trigger: galley_loads.appliance_started
              target: {entity_id: event.stranger}
          actions:
            - action: test.automation
        """,
    )
    hass.states.async_set(
        "event.stranger", "2026-05-11T11:01:00", {"event_type": "started"}
    )
    await hass.async_block_till_done()
    assert calls == []


async def test_the_interface_knows_every_trigger(hass: HomeAssistant) -> None:
    await start_boat(hass, boat_entry())
    await async_setup_component(hass, AUTOMATION_DOMAIN, {})
    described = await async_get_all_descriptions(hass)
    ours = {key: value for key, value in described.items() if key.startswith(DOMAIN)}
    assert set(ours) == {f"{DOMAIN}.{name}" for name in TRIGGERS}
    assert all(one is not None and "target" in one for one in ours.values())


async def test_a_subentry_device_narrows_to_one_appliance(
    hass: HomeAssistant,
    device_registry: dr.DeviceRegistry,
    day: GalleyDay,
    calls: list[ServiceCall],
) -> None:
    entry = await start_boat(hass, boat_entry())
    oven = device_registry.async_get_device_by_identifier(
        (DOMAIN, subentry_id(entry, "Oven")), entry.entry_id
    )
    await automate(
        hass,
        f"""
        - triggers:
            - trigger: galley_loads.appliance_started
              target: {{device_id: {oven.id}}}
          actions:
            - action: test.automation
        """,
    )
    for name in ("Kettle", "Oven"):
        entry.runtime_data.reports.async_report(news(OccurrenceKind.STARTED, name))
        await hass.async_block_till_done()
    assert len(calls) == 1
