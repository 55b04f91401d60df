"""Conditions: cooking, an appliance running, the advice."""

from typing import Any

from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.helpers import condition
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import parse_yaml
import pytest
from pytest_homeassistant_custom_component.common import async_mock_service
import voluptuous as vol

from custom_components.galley_loads.condition import CONDITIONS
from custom_components.galley_loads.const import DOMAIN

from .at_home import boat_entry, start_boat
from .galley_day import GalleyDay

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

ADVICE = "sensor.kittiwake_advice"


@pytest.fixture
def calls(hass: HomeAssistant) -> list[ServiceCall]:
    """What the automations did."""
    return async_mock_service(hass, "test", "automation")


async def automate(hass: HomeAssistant, conditions: str) -> None:
    """Set up an automation that acts on an event if conditions allow."""
    yaml = f"""
        - triggers:
            - trigger: event
              event_type: asked
          conditions:
            {conditions}
          actions:
            - action: test.automation
        """
    assert await async_setup_component(
        hass, "automation", {"automation": parse_yaml(yaml)}
    )
    await hass.async_block_till_done()


async def asked(hass: HomeAssistant, calls: list[ServiceCall]) -> bool:
    """Return whether the automation acts now."""
    calls.clear()
    hass.bus.async_fire("asked")
    await hass.async_block_till_done()
    return bool(calls)


@pytest.mark.parametrize(
    ("name", "entity_id"),
    [
        ("is_cooking", "binary_sensor.kittiwake_cooking"),
        ("appliance_is_running", "binary_sensor.kettle_running"),
    ],
)
async def test_a_condition_holds_only_while_the_kettle_is_on(
    hass: HomeAssistant,
    day: GalleyDay,
    calls: list[ServiceCall],
    name: str,
    entity_id: str,
) -> None:
    await start_boat(hass, boat_entry())
    await automate(
        hass,
        f"- {{condition: {DOMAIN}.{name}, target: {{entity_id: {entity_id}}}}}",
    )
    await day.live(300, step_s=60)
    assert not await asked(hass, calls)
    await day.live(120, 1620)
    assert await asked(hass, calls)
    await day.live(600, 120)
    assert not await asked(hass, calls)


async def test_a_running_oven_is_not_the_boat_cooking(
    hass: HomeAssistant, day: GalleyDay, calls: list[ServiceCall]
) -> None:
    await start_boat(hass, boat_entry())
    await automate(
        hass,
        f"- {{condition: {DOMAIN}.is_cooking,"
        " target: {entity_id: binary_sensor.oven_running}}",
    )
    await day.live(300, step_s=60)
    await day.live(120, 2120)
    assert hass.states.get("binary_sensor.oven_running").state == "on"
    assert not await asked(hass, calls)


@pytest.mark.parametrize(
    ("state", "wanted", "passes"),
    [
        ("cook_now", "cook_now", True),
        ("cook_now", "[wait, cook_now]", True),
        ("wait", "cook_now", False),
        ("unknown", "unknown", True),
        ("unavailable", "unknown", False),
        ("nothing_planned", "[cook_now, wait, hold_off, unknown]", False),
    ],
)
async def test_the_advice_is_one_of_those_chosen(
    hass: HomeAssistant,
    calls: list[ServiceCall],
    state: str,
    wanted: str,
    passes: bool,
) -> None:
    await start_boat(hass, boat_entry())
    await automate(
        hass,
        f"- {{condition: {DOMAIN}.advice_is, target: {{entity_id: {ADVICE}}},"
        f" options: {{advice: {wanted}}}}}",
    )
    hass.states.async_set(ADVICE, state)
    assert await asked(hass, calls) is passes


@pytest.mark.parametrize(
    "options", [{}, {"advice": []}, {"advice": "perhaps"}, {"advice": None}]
)
async def test_an_advice_that_there_is_not_is_refused(
    hass: HomeAssistant, options: dict[str, Any]
) -> None:
    await start_boat(hass, boat_entry())
    wanted = {
        "condition": f"{DOMAIN}.advice_is",
        "target": {"entity_id": ADVICE},
        "options": options,
    }
    with pytest.raises(vol.Invalid):
        await condition.async_validate_condition_config(hass, wanted)


async def test_the_interface_knows_every_condition(hass: HomeAssistant) -> None:
    await start_boat(hass, boat_entry())
    await async_setup_component(hass, "automation", {})
    described = await condition.async_get_all_descriptions(hass)
    ours = {key: value for key, value in described.items() if key.startswith(DOMAIN)}
    assert set(ours) == {f"{DOMAIN}.{name}" for name in CONDITIONS}
    assert all(one is not None and "target" in one for one in ours.values())
