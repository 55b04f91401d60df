"""A boat in the platform's test harness: what the tests of the platform side share."""

from collections.abc import Iterable, Mapping
import logging
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    MockUser,
    async_fire_time_changed,
)

from custom_components.galley_loads.boat.boat_entry import entry_from_mapping
from custom_components.galley_loads.config_flow import boat_unique_id
from custom_components.galley_loads.const import DOMAIN

# The harness has every database statement logged, which takes longer than the tests.
for _name in ("sqlalchemy.engine", "homeassistant.components.recorder"):
    logging.getLogger(_name).setLevel(logging.WARNING)

LOAD = "sensor.inverter_output"
SOLAR = "sensor.array_power"
CURRENT = "sensor.bank_current"
VOLTAGE = "sensor.bank_voltage"
SOC = "sensor.bank_soc"
RELAY = "switch.galley_breaker"

PLAIN = (LOAD, SOLAR, CURRENT, VOLTAGE, SOC, RELAY)

UNITS = {LOAD: "W", SOLAR: "W", CURRENT: "A", VOLTAGE: "V", SOC: "%"}

KITTIWAKE: dict[str, Any] = {
    "name": "Kittiwake",
    "latitude": 38.53,
    "longitude": -28.62,
    "time_zone": "Atlantic/Azores",
    "sensors": {
        "ac_load_power": LOAD,
        "solar_power": SOLAR,
        "battery_current": CURRENT,
        "battery_voltage": VOLTAGE,
        "battery_soc": SOC,
    },
    "bank": {"capacity_ah": 560, "nominal_voltage": 12.8, "reserve_soc": 35},
    "inverter": {"continuous_power": 2500, "efficiency": 0.92},
    "solar": {"array_power": 540},
    "circuits": [
        {"name": "Galley 1", "breaker_current": 15, "voltage": 120, "relay": RELAY}
    ],
    "appliances": [
        {
            "name": "Kettle",
            "kind": "kettle",
            "rated_power": 1500,
            "circuit": "Galley 1",
        },
        {"name": "Oven", "kind": "oven", "rated_power": 2000},
    ],
    "dishes": [{"name": "Bread", "appliances": {"Oven": 50}}],
}


OTHER_LOAD = "sensor.other_load"


def another_boat(name: str, **changes: Any) -> dict[str, Any]:
    """Return the boat file of a boat beside Kittiwake: its load and relays are its own."""
    circuit = {"name": "Galley 1", "breaker_current": 15, "voltage": 120}
    return {
        **KITTIWAKE,
        "name": name,
        "sensors": {"ac_load_power": OTHER_LOAD, "battery_soc": SOC},
        "circuits": [circuit],
        **changes,
    }


def boat_entry(mapping: Mapping[str, Any] = KITTIWAKE) -> MockConfigEntry:
    """Return the config entry of a boat file."""
    parts = entry_from_mapping(mapping)
    return MockConfigEntry(
        domain=DOMAIN,
        title=parts.title,
        unique_id=boat_unique_id(parts.title),
        data=parts.data,
        options=parts.options,
        subentries_data=parts.subentries,
    )


def subentry_id(entry: MockConfigEntry, name: str) -> str:
    """Return the id of the appliance, circuit or dish of that name."""
    return next(
        sub.subentry_id for sub in entry.subentries.values() if sub.title == name
    )


def set_sensor(hass: HomeAssistant, entity_id: str, value: Any) -> None:
    """Let one of the boat's sensors say something."""
    unit = UNITS.get(entity_id)
    hass.states.async_set(
        entity_id, str(value), {"unit_of_measurement": unit} if unit else {}
    )


def set_sensors(hass: HomeAssistant, load_w: float = 120.0) -> None:
    """Let all sensors of Kittiwake say something plain."""
    for entity_id, value in (
        (SOLAR, 0),
        (CURRENT, round(-load_w / 0.92 / 13.0, 2)),
        (VOLTAGE, 13.0),
        (SOC, 80),
        (LOAD, load_w),
        (RELAY, "on"),
    ):
        set_sensor(hass, entity_id, value)


async def start_boat(hass: HomeAssistant, entry: MockConfigEntry) -> MockConfigEntry:
    """Set the boat up and wait until it has caught up with the past."""
    if entry.entry_id not in {
        one.entry_id for one in hass.config_entries.async_entries()
    }:
        entry.add_to_hass(hass)
    assert await async_setup_component(hass, "homeassistant", {})
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done(wait_background_tasks=True)
    return entry


async def boat_at_rest(
    hass: HomeAssistant,
    mapping: Mapping[str, Any] = KITTIWAKE,
    *,
    load_w: float = 120.0,
) -> MockConfigEntry:
    """Set a boat up whose sensors all say something plain."""
    set_sensors(hass, load_w)
    return await start_boat(hass, boat_entry(mapping))


async def settle(hass: HomeAssistant) -> None:
    """Let the platform do all that is due by now."""
    async_fire_time_changed(hass)
    await hass.async_block_till_done(wait_background_tasks=True)


async def later(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, seconds: float
) -> None:
    """Let time pass in one go."""
    freezer.tick(seconds)
    await settle(hass)


def states(hass: HomeAssistant, entity_ids: Iterable[str]) -> dict[str, str | None]:
    """Return the states of several entities, None for those that are not there."""
    found = {}
    for entity_id in entity_ids:
        state = hass.states.get(entity_id)
        found[entity_id] = None if state is None else state.state
    return found


def fresh_token(hass: HomeAssistant, user: MockUser) -> str:
    """Return an access token that is valid now: a login lasts half an hour."""
    (refresh_token,) = user.refresh_tokens.values()
    return hass.auth.async_create_access_token(refresh_token)
