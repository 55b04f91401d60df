"""What the outlook is told beside the boat's sensors: where she lies, and forecasts.

Forecasts are those that the owner named for the array, else those that the energy
dashboard uses. Our own is never taken for one.
"""

from collections.abc import Iterable
import logging
import math
import time
from typing import Final

from homeassistant.components.energy.data import async_get_manager
from homeassistant.components.energy.websocket_api import async_get_energy_platforms
from homeassistant.const import (
    ATTR_LATITUDE,
    ATTR_LONGITUDE,
    ATTR_UNIT_OF_MEASUREMENT,
    UnitOfEnergy,
)
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util
from homeassistant.util.unit_conversion import EnergyConverter

from ..const import DOMAIN
from ..coordinator import GalleyCoordinator
from ..core.metering.reading import number_of
from ..core.sky.forecast_reading import (
    ForecastSpan,
    added,
    period_of_span,
    periods_of_hours,
    span_of_name,
)
from ..core.sky.solar_forecast import ForecastPeriod

_LOGGER = logging.getLogger(__name__)

ENERGY_DOMAIN: Final = "energy"

MOVED_DEG: Final = 0.01
"""So far, about a kilometre, the boat must have moved for the sun to stand elsewhere."""


class OutlookSources:
    """Tells one boat's outlook of its position and of solar forecasts."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing told."""
        self._hass = hass
        self._coordinator = coordinator
        self._generation = coordinator.generation
        self._position: tuple[float, float] | None = None
        self._told: list[ForecastPeriod] = []
        self._warned: set[str] = set()

    async def async_refresh(self) -> None:
        """Tell the outlook what is new; another engine, all there is."""
        if self._coordinator.generation != self._generation:
            self._generation = self._coordinator.generation
            self._position, self._told = None, []
        position = self._present_position()
        if position is not None and _moved(self._position, position):
            self._position = position
            await self._coordinator.async_with_engine(
                lambda engine: engine.outlook().observe_position(*position)
            )
        periods = await self._async_forecast()
        if periods and periods != self._told:
            self._told = periods
            now_s = time.time()
            await self._coordinator.async_with_engine(
                lambda engine: engine.outlook().observe_forecast(now_s, periods)
            )

    # Position

    def _present_position(self) -> tuple[float, float] | None:
        entity_id = self._coordinator.boat.sensors.position
        state = None if entity_id is None else self._hass.states.get(entity_id)
        if state is None:
            return None
        try:
            latitude = float(state.attributes[ATTR_LATITUDE])
            longitude = float(state.attributes[ATTR_LONGITUDE])
        except KeyError, TypeError, ValueError:
            return None
        if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
            return None
        return latitude, longitude

    # Forecast

    async def _async_forecast(self) -> list[ForecastPeriod]:
        solar = self._coordinator.boat.solar
        named = () if solar is None else solar.forecast
        sensors = [name for name in named if "." in name]
        services = [name for name in named if "." not in name]
        by_sensors = [
            period
            for entity_id in sensors
            if (period := self._period_of_sensor(entity_id)) is not None
        ]
        # What remains of today is newer than what was told for the whole of it.
        by_sensors.sort(key=lambda period: period.start_s)
        entry_ids = self._entries_of(services) if named else await self._entries_used()
        by_services = [await self._async_periods(entry_id) for entry_id in entry_ids]
        return added(by_services) or by_sensors

    def _period_of_sensor(self, entity_id: str) -> ForecastPeriod | None:
        state = self._hass.states.get(entity_id)
        if state is None:
            return None
        span = self._span_of(entity_id, state.name)
        unit = state.attributes.get(
            ATTR_UNIT_OF_MEASUREMENT, UnitOfEnergy.KILO_WATT_HOUR
        )
        try:
            energy_wh = EnergyConverter.convert(
                number_of(state.state), unit, UnitOfEnergy.WATT_HOUR
            )
        except ValueError, HomeAssistantError:
            return None
        if span is None or not math.isfinite(energy_wh) or energy_wh < 0.0:
            return None
        zone = self._coordinator.boat.time_zone
        return period_of_span(span, energy_wh, time.time(), zone)

    def _span_of(self, entity_id: str, name: str) -> ForecastSpan | None:
        known = er.async_get(self._hass).async_get(entity_id)
        key = None if known is None else known.translation_key
        for text in (key, entity_id, name):
            if text and (span := span_of_name(text)) is not None:
                return span
        if entity_id not in self._warned:
            self._warned.add(entity_id)
            _LOGGER.warning(
                "%s: %s is not used as a forecast: its name does not tell whether it is"
                " about today, what remains of today, or tomorrow",
                self._coordinator.name,
                entity_id,
            )
        return None

    def _entries_of(self, services: Iterable[str]) -> list[str]:
        return [
            entry.entry_id
            for domain in services
            for entry in self._hass.config_entries.async_loaded_entries(domain)
        ]

    async def _entries_used(self) -> list[str]:
        """Return the forecasts that the energy dashboard uses."""
        if ENERGY_DOMAIN not in self._hass.config.components:
            return []
        prefs = (await async_get_manager(self._hass)).data
        if prefs is None:
            return []
        found: dict[str, None] = {}
        for source in prefs["energy_sources"]:
            if source["type"] == "solar":
                found.update(dict.fromkeys(source["config_entry_solar_forecast"] or ()))
        return list(found)

    async def _async_periods(self, entry_id: str) -> list[ForecastPeriod]:
        entry = self._hass.config_entries.async_get_entry(entry_id)
        if entry is None or entry.domain == DOMAIN:
            return []
        if ENERGY_DOMAIN not in self._hass.config.components:
            return []
        platforms = await async_get_energy_platforms(self._hass)
        if (platform := platforms.get(entry.domain)) is None:
            return []
        try:
            forecast = await platform(self._hass, entry_id)
        except Exception:  # A stranger's forecast must not take ours away.
            _LOGGER.debug("%s gave no forecast", entry.domain, exc_info=True)
            return []
        by_start: dict[float, float] = {}
        if forecast is None:
            return []
        for text, energy_wh in forecast["wh_hours"].items():
            start = dt_util.parse_datetime(text)
            if start is None or energy_wh < 0:
                continue
            if start.tzinfo is None:
                start = start.replace(tzinfo=self._coordinator.boat.time_zone)
            by_start[start.timestamp()] = float(energy_wh)
        return periods_of_hours(by_start)


def _moved(before: tuple[float, float] | None, after: tuple[float, float]) -> bool:
    if before is None:
        return True
    return any(abs(a - b) >= MOVED_DEG for a, b in zip(before, after, strict=True))
