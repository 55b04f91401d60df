"""Sensors to suggest: what the owner told the energy dashboard already."""

from collections.abc import Container
from typing import Any

from homeassistant.components.energy.data import (
    BatterySourceType,
    EnergyPreferences,
    async_get_manager,
)
from homeassistant.components.energy.websocket_api import async_get_energy_platforms
from homeassistant.components.sensor import (
    ATTR_STATE_CLASS,
    DOMAIN as SENSOR_DOMAIN,
    SensorDeviceClass,
)
from homeassistant.const import ATTR_DEVICE_CLASS
from homeassistant.core import HomeAssistant, valid_entity_id
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.selector import SelectOptionDict

from ..boat.sensor_check import ROLES, Quantity, sensor_problem
from ..const import DOMAIN
from ..core.sky.forecast_reading import span_of_name
from .forms import CONF_BATTERY_POSITIVE

ENERGY_DOMAIN = "energy"


async def async_suggest_sensors(hass: HomeAssistant) -> dict[str, Any]:
    """Return sensors by role, only such as can serve; empty where nothing is known."""
    if ENERGY_DOMAIN not in hass.config.components:
        return {}
    prefs = (await async_get_manager(hass)).data
    if prefs is None:
        return {}
    suggested = _from_sources(prefs)
    fit: dict[str, Any] = {}
    for role, quantity in ROLES.items():
        chosen = suggested.get(role)
        if isinstance(chosen, list):
            if several := [one for one in chosen if _is_fit(hass, quantity, one)]:
                fit[role] = several
        elif chosen is not None and _is_fit(hass, quantity, chosen):
            fit[role] = chosen
    if "battery_power" in fit:
        fit[CONF_BATTERY_POSITIVE] = suggested[CONF_BATTERY_POSITIVE]
    return _with_neighbours(hass, fit)


async def async_suggest_meters(
    hass: HomeAssistant, taken: Container[str]
) -> dict[str, str]:
    """Return the power sensors of the dashboard's single devices, with their names.

    Those that are `taken` already are left out.
    """
    if ENERGY_DOMAIN not in hass.config.components:
        return {}
    prefs = (await async_get_manager(hass)).data
    if prefs is None:
        return {}
    found: dict[str, str] = {}
    for device in prefs["device_consumption"]:
        meter = device.get("stat_rate")
        if meter and meter not in taken and _is_fit(hass, Quantity.POWER, meter):
            state = hass.states.get(meter)
            found[meter] = device.get("name") or (state.name if state else meter)
    return found


async def async_forecasts(hass: HomeAssistant) -> list[SelectOptionDict]:
    """Return the solar forecasts that are there: services, and sensors by their name."""
    options: list[SelectOptionDict] = []
    if ENERGY_DOMAIN in hass.config.components:
        platforms = await async_get_energy_platforms(hass)
        options += [
            SelectOptionDict(value=domain, label=entries[0].title)
            for domain in sorted(platforms)
            if domain != DOMAIN
            and (entries := hass.config_entries.async_loaded_entries(domain))
        ]
    options += [
        SelectOptionDict(value=state.entity_id, label=state.name)
        for state in hass.states.async_all(SENSOR_DOMAIN)
        if state.attributes.get(ATTR_DEVICE_CLASS) == SensorDeviceClass.ENERGY
        # A meter has a state class, a forecast has none.
        and ATTR_STATE_CLASS not in state.attributes
        and span_of_name(state.entity_id) is not None
    ]
    return options


def _from_sources(prefs: EnergyPreferences) -> dict[str, Any]:
    suggested: dict[str, Any] = {"solar_power": []}
    for source in prefs["energy_sources"]:
        if source["type"] == "solar" and (rate := source.get("stat_rate")):
            suggested["solar_power"].append(rate)
        elif source["type"] == "battery" and "battery_soc" not in suggested:
            suggested |= _from_battery(source)
    return suggested


def _from_battery(source: BatterySourceType) -> dict[str, Any]:
    """Read the dashboard's battery: its power is positive while discharging."""
    suggested: dict[str, Any] = {}
    if soc := source.get("stat_soc"):
        suggested["battery_soc"] = soc
    power = source.get("power_config") or {}
    if inverted := power.get("stat_rate_inverted"):
        suggested["battery_power"] = inverted
        suggested[CONF_BATTERY_POSITIVE] = "charging"
    elif rate := power.get("stat_rate") or source.get("stat_rate"):
        suggested["battery_power"] = rate
        suggested[CONF_BATTERY_POSITIVE] = "discharging"
    return suggested


def _is_fit(hass: HomeAssistant, quantity: Quantity, entity_id: str) -> bool:
    return valid_entity_id(entity_id) and not sensor_problem(hass, quantity, entity_id)


def _with_neighbours(hass: HomeAssistant, fit: dict[str, Any]) -> dict[str, Any]:
    """Add the voltage that the battery's own device tells, if it tells just one."""
    registry = er.async_get(hass)
    for role in ("battery_power", "battery_soc"):
        known = registry.async_get(fit.get(role, ""))
        if known is None or known.device_id is None:
            continue
        voltages = [
            entry.entity_id
            for entry in er.async_entries_for_device(registry, known.device_id)
            if SensorDeviceClass.VOLTAGE
            in (entry.device_class, entry.original_device_class)
            and _is_fit(hass, Quantity.VOLTAGE, entry.entity_id)
        ]
        if len(voltages) == 1:
            return {**fit, "battery_voltage": voltages[0]}
    return fit
