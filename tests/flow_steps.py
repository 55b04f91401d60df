"""Going through the forms of the interface: what the tests of the flows share."""

from typing import Any

from homeassistant.components.energy.data import async_get_manager
from homeassistant.config_entries import SOURCE_USER, ConfigFlowResult
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.galley_loads.const import DOMAIN

from .at_home import CURRENT, LOAD, SOC, SOLAR, VOLTAGE, subentry_id

SENSORS = {
    "ac_load_power": LOAD,
    "solar_power": [SOLAR],
    "battery_current": CURRENT,
    "battery_voltage": VOLTAGE,
    "battery_soc": SOC,
    "battery_power_positive": "charging",
}
BANK = {
    "capacity_ah": 560,
    "nominal_voltage": 12.8,
    "reserve_soc": 35,
    "chemistry": "lfp",
    "details": {"charge_efficiency": 97},
}
INVERTER = {"continuous_power": 2500, "idle_power": 18, "efficiency": 92}
ARRAY = {"array_power": 540}
BOAT = {
    "name": "Kittiwake",
    "location": {"latitude": 38.53, "longitude": -28.62},
    "time_zone": "Atlantic/Azores",
}


async def begin(hass: HomeAssistant, way: str) -> ConfigFlowResult:
    """Start the flow and choose a way in its menu."""
    result = await hass.config_entries.flow.async_init(
        DOMAIN, context={"source": SOURCE_USER}
    )
    assert result["type"] is FlowResultType.MENU
    return await hass.config_entries.flow.async_configure(
        result["flow_id"], {"next_step_id": way}
    )


async def answer(
    hass: HomeAssistant, result: ConfigFlowResult, *answers: dict[str, Any]
) -> ConfigFlowResult:
    """Answer one form after the other, and wait for what comes of it."""
    for one in answers:
        result = await hass.config_entries.flow.async_configure(result["flow_id"], one)
    await hass.async_block_till_done(wait_background_tasks=True)
    return result


def suggested(result: ConfigFlowResult) -> dict[str, Any]:
    """Return what a form suggests, without the gaps that have to be filled in."""
    return {
        name: value for name, value in _shown(result).items() if value not in ("", None)
    }


def gaps(result: ConfigFlowResult) -> set[str]:
    """Return the fields that a form shows empty on purpose."""
    return {name for name, value in _shown(result).items() if value == ""}


def _shown(result: ConfigFlowResult) -> dict[str, Any]:
    return {
        str(key): key.description["suggested_value"]
        for key in result["data_schema"].schema
        if key.description and "suggested_value" in key.description
    }


async def set_energy_preferences(hass: HomeAssistant, prefs: dict[str, Any]) -> None:
    """Let the owner have told the energy dashboard something."""
    assert await async_setup_component(hass, "energy", {})
    manager = await async_get_manager(hass)
    manager.data = {"energy_sources": [], "device_consumption": [], **prefs}


async def reconfigure(
    hass: HomeAssistant, entry: MockConfigEntry, part: str
) -> ConfigFlowResult:
    """Start changing a part of a boat."""
    result = await entry.start_reconfigure_flow(hass)
    assert result["type"] is FlowResultType.MENU
    return await hass.config_entries.flow.async_configure(
        result["flow_id"], {"next_step_id": part}
    )


async def answer_part(
    hass: HomeAssistant, result: Any, *answers: dict[str, Any]
) -> Any:
    """Answer one form of a part after the other, and wait for what comes of it."""
    for one in answers:
        assert result["type"] in (FlowResultType.FORM, FlowResultType.MENU), result
        result = await hass.config_entries.subentries.async_configure(
            result["flow_id"], one
        )
    await hass.async_block_till_done(wait_background_tasks=True)
    return result


async def add(
    hass: HomeAssistant, entry: MockConfigEntry, kind: str, *answers: dict[str, Any]
) -> Any:
    """Add a part of the boat and answer its forms."""
    result = await hass.config_entries.subentries.async_init(
        (entry.entry_id, kind), context={"source": SOURCE_USER}
    )
    return await answer_part(hass, result, *answers)


async def change(
    hass: HomeAssistant, entry: MockConfigEntry, name: str, *answers: dict[str, Any]
) -> Any:
    """Change a part of the boat and answer its forms."""
    result = await entry.start_subentry_reconfigure_flow(hass, subentry_id(entry, name))
    return await answer_part(hass, result, *answers)
