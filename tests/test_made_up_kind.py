"""A kind made up on the spot goes through forms, entities, events and the texts' check."""

from collections.abc import Iterator
from typing import Any

from homeassistant.components.binary_sensor import DOMAIN as BINARY_SENSOR
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import device_registry as dr
import pytest

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.kinds.kind import Kind

from .at_home import boat_at_rest
from .core.kinds.waffle_iron import waffle_iron_known
from .flow_steps import add
from .test_texts import without_a_text

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

IRON = {"name": "Waffle iron", "kind": "waffle_iron", "rated_power": 1200}


@pytest.fixture(autouse=True)
def kind() -> Iterator[Kind]:
    """Let the catalogue have the kind for one test."""
    with waffle_iron_known() as known:
        yield known


def offered(result: Any) -> list[str]:
    """Return the kinds that a form offers."""
    options: list[str] = result["data_schema"].schema["kind"].config["options"]
    return options


async def test_the_form_offers_it_and_makes_an_appliance_of_it(
    hass: HomeAssistant, kind: Kind
) -> None:
    entry = await boat_at_rest(hass)
    form = await add(hass, entry, "appliance")
    assert offered(form) == [str(one) for one in KINDS]
    assert offered(form)[-1] == "waffle_iron"
    result = await add(hass, entry, "appliance", IRON)
    assert result["type"] is FlowResultType.CREATE_ENTRY
    assert boat_from_entry(entry).appliance("Waffle iron").kind is kind


async def test_its_device_has_the_entities_of_its_traits(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    await add(hass, entry, "appliance", IRON)
    running = hass.states.get(f"{BINARY_SENSOR}.waffle_iron_running")
    assert running.attributes["icon"] == "mdi:waffle"
    types = hass.states.get("event.waffle_iron_activity").attributes["event_types"]
    assert set(types) == {"started", "at_temperature", "finished", "left_running"}
    (device,) = (
        one
        for one in dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
        if one.name == "Waffle iron"
    )
    assert device.model == "Waffle iron"


def test_a_kind_without_a_text_is_noticed() -> None:
    assert without_a_text("kind", KINDS) == {"waffle_iron"}
