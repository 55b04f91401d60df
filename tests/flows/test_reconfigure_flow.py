"""Changing a boat and its options."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.const import DOMAIN
from tests.at_home import CURRENT, KITTIWAKE, LOAD, SOLAR, VOLTAGE, boat_at_rest
from tests.flow_steps import BANK, BOAT, INVERTER, answer, reconfigure, suggested

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")


@pytest.mark.parametrize(
    ("part", "given", "attribute", "expected"),
    [
        ("bank", {**BANK, "capacity_ah": 400}, "bank.capacity_ah", 400),
        ("inverter", {**INVERTER, "efficiency": 88}, "inverter.efficiency", 0.88),
        ("inverter", {}, "inverter", None),
        ("solar", {"array_power": 1200}, "solar.array_power_w", 1200),
        ("solar", {}, "solar", None),
        ("sensors", {"ac_load_power": LOAD}, "sensors.battery_soc", None),
        ("boat", {**BOAT, "name": "Fulmar"}, "name", "Fulmar"),
    ],
)
async def test_each_part_of_a_boat_can_be_changed(
    hass: HomeAssistant, part: str, given: dict[str, Any], attribute: str, expected: Any
) -> None:
    entry = await boat_at_rest(hass)
    result = await reconfigure(hass, entry, part)
    assert result["step_id"] == part
    result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "reconfigure_successful"
    value: Any = boat_from_entry(entry)
    for name in attribute.split("."):
        value = getattr(value, name)
    assert value == expected
    # Nothing else was lost.
    assert [a.name for a in boat_from_entry(entry).appliances] == ["Kettle", "Oven"]
    assert hass.states.get("sensor.kettle_state").state == "off"


async def test_the_forms_show_the_boat_as_it_is(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    result = await reconfigure(hass, entry, "inverter")
    assert suggested(result) == {"continuous_power": 2500, "efficiency": 92}
    hass.config_entries.flow.async_abort(result["flow_id"])
    result = await reconfigure(hass, entry, "sensors")
    assert suggested(result)["solar_power"] == [SOLAR]
    hass.config_entries.flow.async_abort(result["flow_id"])
    result = await reconfigure(hass, entry, "boat")
    assert suggested(result) == BOAT


@pytest.mark.parametrize(
    ("part", "holds"),
    [
        ("sensors", {"battery_power_positive": "charging"}),
        ("bank", {"chemistry": "lfp"}),
    ],
)
async def test_the_forms_show_what_holds_where_nothing_was_said(
    hass: HomeAssistant, part: str, holds: dict[str, Any]
) -> None:
    entry = await boat_at_rest(hass)
    before = boat_from_entry(entry)
    result = await reconfigure(hass, entry, part)
    given = suggested(result)
    assert given | holds == given
    await answer(hass, result, given)
    assert boat_from_entry(entry) == before


async def test_a_boat_without_array_shows_an_empty_form(hass: HomeAssistant) -> None:
    mapping = {key: part for key, part in KITTIWAKE.items() if key != "solar"}
    entry = await boat_at_rest(hass, mapping)
    result = await reconfigure(hass, entry, "solar")
    assert suggested(result) == {}


async def test_a_renamed_boat_keeps_its_entities(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    entry = await boat_at_rest(hass)
    before = set(entity_registry.entities)
    result = await reconfigure(hass, entry, "boat")
    await answer(hass, result, {**BOAT, "name": "Fulmar"})
    assert entry.title == "Fulmar"
    assert entry.unique_id == "fulmar"
    assert set(entity_registry.entities) == before


async def test_a_boat_cannot_take_the_name_of_another(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    MockConfigEntry(domain=DOMAIN, title="Fulmar", unique_id="fulmar").add_to_hass(hass)
    result = await reconfigure(hass, entry, "boat")
    result = await answer(hass, result, {**BOAT, "name": "Fulmar"})
    assert result["errors"] == {"name": "name_taken"}
    result = await answer(hass, result, BOAT)
    assert result["reason"] == "reconfigure_successful"


async def test_a_change_that_does_not_fit_the_boat_is_told_in_the_form(
    hass: HomeAssistant,
) -> None:
    entry = await boat_at_rest(hass)
    result = await reconfigure(hass, entry, "sensors")
    # With an array, battery power alone does not tell the load.
    result = await answer(
        hass, result, {"battery_current": CURRENT, "battery_voltage": VOLTAGE}
    )
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == {"solar_power": "no_load"}
    assert boat_from_entry(entry).sensors.ac_load_power is not None
    result = await answer(
        hass,
        result,
        {
            "battery_current": CURRENT,
            "battery_voltage": VOLTAGE,
            "solar_power": [SOLAR],
        },
    )
    assert result["reason"] == "reconfigure_successful"
    assert boat_from_entry(entry).sensors.ac_load_power is None


async def test_what_is_worked_out_of_the_meters_is_no_meter(
    hass: HomeAssistant,
) -> None:
    entry = await boat_at_rest(hass)
    result = await reconfigure(hass, entry, "sensors")
    given = suggested(result)
    # It is not listed, and refused where it comes by another way.
    power = result["data_schema"].schema["ac_load_power"].config
    assert "sensor.kittiwake_galley_power" in power["exclude_entities"]
    assert LOAD not in power["exclude_entities"]
    own = {"ac_load_power": "sensor.kittiwake_galley_power"}
    result = await answer(hass, result, {**given, **own})
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == {"ac_load_power": "our_own"}
    result = await answer(hass, result, given)
    assert result["reason"] == "reconfigure_successful"


async def test_options_change_what_a_meal_is(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    result = await hass.config_entries.options.async_init(entry.entry_id)
    assert result["type"] is FlowResultType.FORM
    assert suggested(result) == {"meal_gap_minutes": 30, "stove_efficiency": 55}
    result = await hass.config_entries.options.async_configure(
        result["flow_id"], {"meal_gap_minutes": 50}
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done(wait_background_tasks=True)
    assert entry.runtime_data.coordinator.boat.meal_gap_minutes == 50
