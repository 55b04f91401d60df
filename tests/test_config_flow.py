"""Setting a boat up, step by step and from a file."""

from pathlib import Path
from typing import Any
from unittest.mock import patch

from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
import pytest
import yaml

from custom_components.galley_loads.boat.boat_entry import boat_from_entry
from custom_components.galley_loads.core.boat.boat_schema import parse_boat

from .at_home import (
    CURRENT,
    KITTIWAKE,
    LOAD,
    SOC,
    SOLAR,
    VOLTAGE,
    boat_entry,
    set_sensors,
)
from .flow_steps import (
    ARRAY,
    BANK,
    BOAT,
    INVERTER,
    SENSORS,
    answer,
    begin,
    gaps,
    suggested,
)

pytestmark = pytest.mark.usefixtures(
    "recorder_mock", "enable_custom_integrations", "sensors_at_rest"
)


@pytest.fixture
def sensors_at_rest(hass: HomeAssistant) -> None:
    """Have all sensors of Kittiwake say something plain."""
    set_sensors(hass)


async def test_a_boat_is_set_up_step_by_step(hass: HomeAssistant) -> None:
    result = await begin(hass, "sensors")
    for step, given in (
        ("sensors", SENSORS),
        ("bank", BANK),
        ("inverter", INVERTER),
        ("solar", ARRAY),
        ("boat", BOAT),
    ):
        assert result["type"] is FlowResultType.FORM
        assert result["step_id"] == step
        result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.CREATE_ENTRY
    assert result["title"] == "Kittiwake"
    boat = boat_from_entry(result["result"])
    assert boat.sensors.solar_power[0].entity_id == SOLAR
    assert boat.sensors.battery_sign == 1
    assert boat.bank.charge_efficiency == pytest.approx(0.97)
    assert boat.inverter is not None
    assert boat.inverter.efficiency == pytest.approx(0.92)
    assert boat.solar is not None
    assert str(boat.time_zone) == "Atlantic/Azores"
    assert hass.states.get("sensor.kittiwake_background_power").state == "120.0"


async def test_a_galley_on_dc_has_no_inverter_and_needs_no_array(
    hass: HomeAssistant,
) -> None:
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"battery_current": CURRENT, "battery_voltage": VOLTAGE},
        {"capacity_ah": 200, "nominal_voltage": 12, "reserve_soc": 50},
        {},
        {},
        BOAT,
    )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    boat = boat_from_entry(result["result"])
    assert boat.inverter is None
    assert boat.solar is None
    assert boat.conversion == 1.0


@pytest.mark.parametrize(
    ("sensors", "errors"),
    [
        ({}, {"base": "no_way_to_load"}),
        ({"battery_current": CURRENT}, {"battery_voltage": "missing"}),
        ({"ac_load_power": "sensor.nobody"}, {"ac_load_power": "sensor_missing"}),
        ({"ac_load_power": VOLTAGE}, {"ac_load_power": "no_power_unit"}),
        ({"ac_load_power": "sensor.words"}, {"ac_load_power": "no_number"}),
        (
            {"ac_load_power": LOAD, "solar_power": [SOLAR, SOC]},
            {"solar_power": "no_power_unit"},
        ),
        (
            {"ac_load_power": LOAD, "battery_power": LOAD},
            {"battery_power": "duplicate"},
        ),
        (
            {"ac_load_power": LOAD, "battery_soc": VOLTAGE},
            {"battery_soc": "no_charge_unit"},
        ),
        (
            {"ac_load_power": LOAD, "battery_voltage": CURRENT},
            {"battery_voltage": "no_voltage_unit"},
        ),
    ],
)
async def test_a_sensor_that_cannot_serve_is_told_at_its_field(
    hass: HomeAssistant, sensors: dict[str, Any], errors: dict[str, str]
) -> None:
    hass.states.async_set("sensor.words", "calm", {"unit_of_measurement": "W"})
    result = await begin(hass, "sensors")
    result = await answer(hass, result, sensors)
    assert result["type"] is FlowResultType.FORM
    assert result["step_id"] == "sensors"
    assert result["errors"] == errors
    # And what was answered is still there; a better answer goes on.
    assert suggested(result) == sensors
    result = await answer(hass, result, SENSORS)
    assert result["step_id"] == "bank"
    assert not result["errors"]


async def test_a_bank_of_nothing_is_told_at_the_field(hass: HomeAssistant) -> None:
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS)
    assert gaps(result) == {"capacity_ah"}
    result = await answer(hass, result, {**BANK, "capacity_ah": 0})
    assert result["step_id"] == "bank"
    assert result["errors"] == {"capacity_ah": "out_of_range"}
    result = await answer(hass, result, {**BANK, "reserve_soc": 130})
    assert result["errors"] == {"reserve_soc": "out_of_range"}
    assert result["description_placeholders"] == {
        "problem": "130 is not a number from 0 to below 100 %"
    }
    result = await answer(hass, result, BANK)
    assert result["step_id"] == "inverter"


async def test_an_inverter_without_its_power_is_told_at_the_field(
    hass: HomeAssistant,
) -> None:
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS, BANK, {"efficiency": 90})
    assert result["step_id"] == "inverter"
    assert result["errors"] == {"continuous_power": "missing"}
    result = await answer(hass, result, INVERTER)
    assert result["step_id"] == "solar"


async def test_a_sensor_in_kilowatts_is_read_in_watts(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.load_kw", "0.25", {"unit_of_measurement": "kW"})
    result = await begin(hass, "sensors")
    result = await answer(
        hass, result, {"ac_load_power": "sensor.load_kw"}, BANK, INVERTER, {}, BOAT
    )
    assert boat_from_entry(result["result"]).sensors.ac_load_power.scale == 1000
    assert hass.states.get("sensor.kittiwake_background_power").state == "250.0"


async def test_an_array_needs_its_sensor_where_nothing_else_tells_the_load(
    hass: HomeAssistant,
) -> None:
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"battery_current": CURRENT, "battery_voltage": VOLTAGE},
        BANK,
        {},
        ARRAY,
        BOAT,
    )
    assert result["step_id"] == "boat"
    assert result["errors"] == {"base": "no_load"}
    assert "solar_power" in result["description_placeholders"]["problem"]


async def test_two_boats_cannot_have_one_name(hass: HomeAssistant) -> None:
    hass.states.async_set("sensor.other", "5", {"unit_of_measurement": "W"})
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "sensors")
    result = await answer(
        hass,
        result,
        {"ac_load_power": "sensor.other"},
        BANK,
        INVERTER,
        ARRAY,
        {**BOAT, "name": "kittiwake "},
    )
    assert result["errors"] == {"name": "name_taken"}
    result = await answer(hass, result, {**BOAT, "name": "Fulmar"})
    assert result["type"] is FlowResultType.CREATE_ENTRY


async def test_the_same_load_sensors_are_the_same_boat(hass: HomeAssistant) -> None:
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "sensors")
    result = await answer(hass, result, SENSORS)
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "already_configured"


# From a file


async def test_a_boat_comes_from_pasted_text(hass: HomeAssistant) -> None:
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.CREATE_ENTRY
    entry = result["result"]
    assert boat_from_entry(entry) == parse_boat(KITTIWAKE)
    assert hass.states.get("sensor.oven_state").state == "off"
    assert {sub.title for sub in entry.subentries.values()} == {
        "Kettle",
        "Oven",
        "Galley 1",
        "Bread",
    }


async def test_a_boat_comes_from_an_uploaded_file(
    hass: HomeAssistant, tmp_path: Path
) -> None:
    file = tmp_path / "boat.yaml"
    file.write_text(yaml.safe_dump({**KITTIWAKE, "meal_gap_minutes": 45}))
    result = await begin(hass, "boat_file")
    with patch(
        "custom_components.galley_loads.flows.boat_file_form.process_uploaded_file"
    ) as upload:
        upload.return_value.__enter__.return_value = file
        result = await answer(
            hass, result, {"file": "5a1cbe9b2f8c4a7e9d3b6c0f1e2d4a5b"}
        )
    assert result["type"] is FlowResultType.CREATE_ENTRY
    assert boat_from_entry(result["result"]).meal_gap_minutes == 45


@pytest.mark.parametrize(
    ("given", "errors", "told"),
    [
        ({}, {"text": "missing"}, "missing"),
        ({"text": "a: [b"}, {"text": "unreadable"}, "line 1"),
        (
            {"text": yaml.safe_dump({**KITTIWAKE, "bank": {"capacity_ah": -1}})},
            {"text": "out_of_range"},
            "bank.capacity_ah",
        ),
        (
            {"text": yaml.safe_dump({**KITTIWAKE, "colour": "red"})},
            {"text": "unknown_key"},
            "colour",
        ),
        (
            {
                "text": yaml.safe_dump(
                    {**KITTIWAKE, "sensors": {"ac_load_power": VOLTAGE}}
                )
            },
            {"base": "sensor_unfit"},
            "ac_load_power",
        ),
        (
            {"file": "5a1cbe9b2f8c4a7e9d3b6c0f1e2d4a5b"},
            {"file": "unreadable"},
            "File does not exist",
        ),
    ],
)
async def test_a_broken_boat_file_is_told_and_can_be_mended(
    hass: HomeAssistant, given: dict[str, Any], errors: dict[str, str], told: str
) -> None:
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, given)
    assert result["type"] is FlowResultType.FORM
    assert result["errors"] == errors
    assert told in result["description_placeholders"]["problem"]
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.CREATE_ENTRY


async def test_a_boat_file_notes_the_unit_that_a_sensor_has(
    hass: HomeAssistant,
) -> None:
    hass.states.async_set("sensor.load_kw", "0.25", {"unit_of_measurement": "kW"})
    mapping = {**KITTIWAKE, "sensors": {"ac_load_power": "sensor.load_kw"}}
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(mapping)})
    assert boat_from_entry(result["result"]).sensors.ac_load_power.scale == 1000


async def test_a_boat_file_notes_the_unit_of_an_appliances_meter(
    hass: HomeAssistant,
) -> None:
    hass.states.async_set("sensor.plug", "0", {"unit_of_measurement": "kW"})
    oven = {**KITTIWAKE["appliances"][1], "power_sensor": "sensor.plug"}
    mapping = {**KITTIWAKE, "appliances": [oven], "dishes": []}
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(mapping)})
    assert boat_from_entry(result["result"]).appliance("Oven").power_sensor.scale == (
        1000
    )


async def test_the_same_boat_file_twice_is_refused(hass: HomeAssistant) -> None:
    boat_entry().add_to_hass(hass)
    result = await begin(hass, "boat_file")
    result = await answer(hass, result, {"text": yaml.safe_dump(KITTIWAKE)})
    assert result["type"] is FlowResultType.ABORT
    assert result["reason"] == "already_configured"
