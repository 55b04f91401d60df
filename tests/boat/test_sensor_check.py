"""Which sensors can serve for what."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from custom_components.galley_loads.boat.sensor_check import (
    Quantity,
    convert,
    recorded_unit,
    sensor_problem,
    sensors_of,
    unfit_for,
    unit_of,
)
from custom_components.galley_loads.flows.fields import entity_field


@pytest.mark.parametrize(
    ("quantity", "text", "unit", "wanted", "number"),
    [
        (Quantity.POWER, "1.5", "kW", "W", 1500),
        (Quantity.POWER, "1500", "W", "kW", 1.5),
        (Quantity.CURRENT, "250", "mA", "A", 0.25),
        (Quantity.VOLTAGE, "12800", "mV", "V", 12.8),
        # The boiling and the freezing point of water, by the scale's definition.
        (Quantity.TEMPERATURE, "212", "°F", "°C", 100),
        (Quantity.TEMPERATURE, "32", "°F", "°C", 0),
    ],
)
def test_a_number_is_converted(
    quantity: Quantity, text: str, unit: str, wanted: str, number: float
) -> None:
    converted = convert(quantity, text, unit, wanted)
    assert converted is not None
    assert float(converted) == pytest.approx(number)


@pytest.mark.parametrize(
    ("quantity", "unit"),
    [
        (Quantity.POWER, "A"),
        (Quantity.CHARGE, "W"),
        (Quantity.SWITCH, "W"),
    ],
)
def test_what_cannot_be_converted_is_not(quantity: Quantity, unit: str) -> None:
    assert convert(quantity, "5", unit, "W") is None


def test_a_word_stays_a_word() -> None:
    assert convert(Quantity.POWER, "calm", "kW", "W") == "calm"


async def test_a_sensor_without_a_unit_is_taken_at_the_base_unit(
    hass: HomeAssistant,
) -> None:
    hass.states.async_set("sensor.bare", "100")
    assert sensor_problem(hass, Quantity.POWER, "sensor.bare") is None
    assert recorded_unit(hass, Quantity.POWER, "sensor.bare") is None


async def test_a_sensor_that_is_silent_now_may_still_serve(
    hass: HomeAssistant,
) -> None:
    for state in ("unavailable", "unknown"):
        hass.states.async_set("sensor.quiet", state, {"unit_of_measurement": "kW"})
        assert sensor_problem(hass, Quantity.POWER, "sensor.quiet") is None
    assert recorded_unit(hass, Quantity.POWER, "sensor.quiet") == "kW"


async def test_the_unit_of_a_sensor_that_is_not_loaded_yet_is_known(
    hass: HomeAssistant, entity_registry: er.EntityRegistry
) -> None:
    entity = entity_registry.async_get_or_create(
        "sensor", "meter", "1", unit_of_measurement="kW"
    )
    assert unit_of(hass, entity.entity_id) == "kW"
    assert sensor_problem(hass, Quantity.POWER, entity.entity_id) is None
    assert sensor_problem(hass, Quantity.VOLTAGE, entity.entity_id) == "no_voltage_unit"


async def test_a_switch_and_a_position_need_no_number(hass: HomeAssistant) -> None:
    hass.states.async_set("switch.relay", "on")
    hass.states.async_set("device_tracker.boat", "not_home")
    assert sensor_problem(hass, Quantity.SWITCH, "switch.relay") is None
    assert sensor_problem(hass, Quantity.POSITION, "device_tracker.boat") is None
    assert recorded_unit(hass, Quantity.SWITCH, "switch.relay") is None


def test_every_chosen_sensor_is_found_with_what_it_measures() -> None:
    assert sensors_of(
        {
            "ac_load_power": "sensor.a",
            "solar_power": ["sensor.b", "sensor.c"],
            "battery_soc": "sensor.d",
            "battery_power_positive": "charging",
        }
    ) == {
        "sensor.a": Quantity.POWER,
        "sensor.b": Quantity.POWER,
        "sensor.c": Quantity.POWER,
        "sensor.d": Quantity.CHARGE,
    }


@pytest.mark.parametrize(
    ("entity_id", "state", "attributes", "problem"),
    [
        ("sensor.gps", "ok", {"latitude": 38.5, "longitude": -28.6}, None),
        ("sensor.gps", "unavailable", {}, None),
        ("device_tracker.boat", "unknown", {}, None),
        ("sensor.humidity", "60", {"unit_of_measurement": "%"}, "no_place"),
    ],
)
async def test_a_sensor_of_the_position_has_one(
    hass: HomeAssistant,
    entity_id: str,
    state: str,
    attributes: dict[str, object],
    problem: str | None,
) -> None:
    hass.states.async_set(entity_id, state, attributes)
    assert sensor_problem(hass, Quantity.POSITION, entity_id) == problem
    left_out = unfit_for(hass, Quantity.POSITION)
    assert left_out == ([entity_id] if problem else [])


@pytest.mark.parametrize("quantity", Quantity)
def test_no_list_of_entities_offers_to_create_a_helper(quantity: Quantity) -> None:
    """The platform's pages offer it for a helper's domain without its integration."""
    for one in entity_field(quantity).config["filter"]:
        (domain,) = one["domain"]
        assert not domain.startswith("input_") or one["integration"] == domain
