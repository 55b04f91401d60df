"""What the sensors are: classes, units, what is on by default."""

from dataclasses import replace
from typing import Any

from homeassistant.components.sensor import SensorDeviceClass, SensorStateClass
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util
from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.const import DOMAIN
from custom_components.galley_loads.core.inference.learning.learned_power import (
    LearnedPower,
)
from custom_components.galley_loads.entities.shown_step import POWER_STEP, ShownStep

from .at_home import KITTIWAKE, LOAD, SOLAR, boat_at_rest

pytestmark = pytest.mark.usefixtures("recorder_mock", "enable_custom_integrations")

PLUG = "sensor.oven_plug"


def attributes(hass: HomeAssistant, entity_id: str) -> dict[str, Any]:
    state = hass.states.get(entity_id)
    assert state is not None, entity_id
    return dict(state.attributes)


async def test_energies_are_fit_for_the_energy_dashboard(hass: HomeAssistant) -> None:
    entry = await boat_at_rest(hass)
    for entity_id in (
        "sensor.kettle_energy",
        "sensor.oven_energy",
        "sensor.kittiwake_galley_energy",
    ):
        found = attributes(hass, entity_id)
        assert found["device_class"] == SensorDeviceClass.ENERGY
        assert found["state_class"] == SensorStateClass.TOTAL
        assert found["unit_of_measurement"] == "kWh"
        # When the boat or the appliance was added: never while it is there.
        began = dt_util.parse_datetime(found["last_reset"])
        assert began >= entry.created_at.replace(microsecond=0)
        assert began.microsecond == 0
    for entity_id in ("sensor.kettle_power", "sensor.kittiwake_galley_power"):
        found = attributes(hass, entity_id)
        assert found["device_class"] == SensorDeviceClass.POWER
        assert found["state_class"] == SensorStateClass.MEASUREMENT
        assert found["unit_of_measurement"] == "W"


async def test_amp_hours_have_a_unit_and_no_class_that_would_be_wrong(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass)
    found = attributes(hass, "sensor.kittiwake_last_meal_bank_charge")
    assert found["unit_of_measurement"] == "Ah"
    assert "device_class" not in found
    assert "state_class" not in found


async def test_no_attribute_carries_a_series(hass: HomeAssistant) -> None:
    await boat_at_rest(hass)
    registry = er.async_get(hass)
    for entity in list(registry.entities.values()):
        state = hass.states.get(entity.entity_id)
        if entity.platform == DOMAIN and state is not None:
            for key, value in state.attributes.items():
                assert len(str(value)) < 300, (entity.entity_id, key)


async def test_rare_sensors_are_off_until_somebody_wants_them(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    await boat_at_rest(hass)
    off = {
        entity_id
        for entity_id, entity in entity_registry.entities.items()
        if entity.platform == DOMAIN and entity.disabled_by is not None
    }
    assert {
        "sensor.kittiwake_background_energy",
        "sensor.kittiwake_time_not_measured",
        "sensor.kettle_confidence",
        "sensor.kettle_run_started",
        "sensor.kettle_standby_energy",
    } <= off
    assert "sensor.kettle_energy" not in off


@pytest.mark.usefixtures("all_enabled")
async def test_every_sensor_has_a_value_that_its_class_allows(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    entry = await boat_at_rest(hass)
    ours = er.async_entries_for_config_entry(entity_registry, entry.entry_id)
    assert len(ours) > 40
    for entity in ours:
        # A value that its class does not allow keeps an entity from having a state.
        assert hass.states.get(entity.entity_id) is not None, entity.entity_id
        assert entity.translation_key, entity.entity_id
        assert entity.unique_id.startswith((entry.entry_id, *entry.subentries)), (
            entity.entity_id
        )
    assert hass.states.get("sensor.kittiwake_load_power").state == "120.0"
    assert hass.states.get("sensor.kettle_run_started").state == "unknown"
    assert hass.states.get("sensor.kettle_confidence").state == "unknown"
    assert hass.states.get("sensor.kettle_learned_power").state == "unknown"
    # As if runs had told.
    coordinator = entry.runtime_data.coordinator
    coordinator.known = replace(
        coordinator.known, learned={"Kettle": LearnedPower(1462.4, None, 3)}
    )
    coordinator.async_update_listeners()
    assert hass.states.get("sensor.kettle_learned_power").state == "1462.0"


async def test_an_appliance_with_its_own_meter_lives_and_dies_with_it(
    hass: HomeAssistant,
) -> None:
    hass.states.async_set(PLUG, "0", {"unit_of_measurement": "W"})
    oven = {**KITTIWAKE["appliances"][1], "power_sensor": PLUG}
    await boat_at_rest(hass, {**KITTIWAKE, "appliances": [oven], "dishes": []})
    assert hass.states.get("sensor.oven_state").state in ("off", "standby")
    hass.states.async_set(LOAD, "unavailable")
    await hass.async_block_till_done(wait_background_tasks=True)
    assert hass.states.get("sensor.oven_state").state != "unavailable"
    hass.states.async_set(PLUG, "unavailable")
    hass.states.async_set(LOAD, "130", {"unit_of_measurement": "W"})
    await hass.async_block_till_done(wait_background_tasks=True)


async def test_a_charger_that_sleeps_at_night_is_not_missed(
    hass: HomeAssistant,
) -> None:
    await boat_at_rest(hass)
    assert hass.states.get("binary_sensor.kittiwake_readings").state == "off"
    hass.states.async_set(SOLAR, "unavailable")
    await hass.async_block_till_done(wait_background_tasks=True)
    readings = hass.states.get("binary_sensor.kittiwake_readings")
    assert readings.state == "off"
    assert readings.attributes["missing"] == []


@given(st.floats(0, 5000), st.floats(0, 5000))
def test_a_change_is_told_if_and_only_if_it_is_large_enough(
    shown: float, value: float
) -> None:
    shown, value = POWER_STEP.rounded(shown), POWER_STEP.rounded(value)
    told = POWER_STEP.is_worth_writing(shown, value)
    if abs(value - shown) >= max(3.0, 0.01 * shown):
        assert told
    elif shown and value:
        assert not told
    assert POWER_STEP.is_worth_writing(shown, 0.0) == (shown != 0.0)


def test_rounding_leaves_no_negative_zero() -> None:
    assert str(ShownStep(1, 0, 0).rounded(-0.2)) == "0.0"
