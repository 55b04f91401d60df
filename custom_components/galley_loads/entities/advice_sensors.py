"""Sensors of the advice: the verdict on the planned dish, and the day ahead."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, override

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import UnitOfPower, UnitOfRatio
from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from ..advice.advice_runner import Result
from ..core.advice import Verdict
from ..core.advice.day_ahead import surplus_sun_w
from ..core.live.live_view import LiveView
from ..entity import BoatEntity
from ..language.speech import english
from ..runtime import GalleyRuntime
from .shown_step import POWER_STEP, SMALL_STEP, ShownStep
from .value_sensor import Value, ValueSensor

NOTHING_PLANNED: Final = "nothing_planned"


@dataclass(frozen=True, kw_only=True)
class AdviceSensorDescription(SensorEntityDescription):
    """How one value is read off the newest result and the present; None: not known.

    `needs_sun` says that the sensor is only there on a boat with an array.
    """

    value_fn: Callable[[Result, LiveView | None], Value]
    step: ShownStep | None = None
    needs_sun: bool = False


def _time(at_s: float | None) -> datetime | None:
    return None if at_s is None else dt_util.utc_from_timestamp(round(at_s))


def _verdict(result: Result, _: LiveView | None) -> str | None:
    if result.advice is None:
        return NOTHING_PLANNED
    verdict = result.advice.verdict
    return None if verdict is Verdict.UNKNOWN else verdict.value


def _best_start(result: Result, _: LiveView | None) -> datetime | None:
    return None if result.advice is None else _time(result.advice.start_s)


def _at_sunrise(result: Result, _: LiveView | None) -> float | None:
    advice = result.advice
    if advice is not None and advice.start_s is not None:
        return advice.soc_at_sunrise
    return result.day.soc_at_sunrise


def _lowest(result: Result, _: LiveView | None) -> float | None:
    advice = result.advice
    if advice is not None and advice.start_s is not None:
        return advice.soc_lowest
    return result.day.soc_lowest


def _surplus(result: Result, live: LiveView | None) -> float | None:
    if live is None:
        return None
    return surplus_sun_w(result.view, live, result.day.clear_sky_index)


def _clear_sky_index(result: Result, _: LiveView | None) -> float | None:
    clear_sky_index = result.day.clear_sky_index
    return None if clear_sky_index is None else 100.0 * clear_sky_index


ADVICE_SENSORS: tuple[AdviceSensorDescription, ...] = (
    AdviceSensorDescription(
        key="advice",
        translation_key="advice",
        device_class=SensorDeviceClass.ENUM,
        options=[
            *(v.value for v in Verdict if v is not Verdict.UNKNOWN),
            NOTHING_PLANNED,
        ],
        value_fn=_verdict,
    ),
    AdviceSensorDescription(
        key="best_start",
        translation_key="best_start",
        device_class=SensorDeviceClass.TIMESTAMP,
        value_fn=_best_start,
    ),
    AdviceSensorDescription(
        key="charge_at_sunrise",
        translation_key="charge_at_sunrise",
        native_unit_of_measurement=UnitOfRatio.PERCENTAGE,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        value_fn=_at_sunrise,
        step=SMALL_STEP,
    ),
    AdviceSensorDescription(
        key="lowest_charge",
        translation_key="lowest_charge",
        native_unit_of_measurement=UnitOfRatio.PERCENTAGE,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        value_fn=_lowest,
        step=SMALL_STEP,
    ),
    AdviceSensorDescription(
        key="bank_full_at",
        translation_key="bank_full_at",
        device_class=SensorDeviceClass.TIMESTAMP,
        entity_registry_enabled_default=False,
        value_fn=lambda result, _: _time(result.day.full_at_s),
        needs_sun=True,
    ),
    AdviceSensorDescription(
        key="surplus_sun",
        translation_key="surplus_sun",
        device_class=SensorDeviceClass.POWER,
        native_unit_of_measurement=UnitOfPower.WATT,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        value_fn=_surplus,
        step=POWER_STEP,
        needs_sun=True,
    ),
    AdviceSensorDescription(
        key="clear_sky_index",
        translation_key="clear_sky_index",
        native_unit_of_measurement=UnitOfRatio.PERCENTAGE,
        state_class=SensorStateClass.MEASUREMENT,
        suggested_display_precision=0,
        value_fn=_clear_sky_index,
        step=SMALL_STEP,
        needs_sun=True,
    ),
)


def advice_sensors(runtime: GalleyRuntime) -> list[SensorEntity]:
    """Return the boat's advice sensors."""
    boat = runtime.coordinator.boat
    has_sun = boat.solar is not None or bool(boat.sensors.solar_power)
    return [
        VerdictSensor(runtime, description)
        if description.key == "advice"
        else AdviceSensor(runtime, description)
        for description in ADVICE_SENSORS
        if has_sun or not description.needs_sun
    ]


class AdviceSensor(BoatEntity, ValueSensor):
    """A value of the newest result; there once the first has been worked out."""

    entity_description: AdviceSensorDescription

    @override
    async def async_added_to_hass(self) -> None:
        """Listen for new results too."""
        await super().async_added_to_hass()
        self.async_on_remove(self.runtime.advice.async_listen(self._async_new_result))

    @callback
    def _async_new_result(self) -> None:
        self._handle_coordinator_update()

    @override
    def _refresh(self) -> bool:
        result = self.runtime.advice.result
        value: Value = None
        if result is not None:
            value = self.entity_description.value_fn(result, self.view)
        return self._show(
            result is not None,
            value,
            self.entity_description.step,
            self._attributes(result),
        )

    def _attributes(self, result: Result | None) -> dict[str, Any]:
        return {}


class VerdictSensor(AdviceSensor):
    """The verdict, with its reasons in words for whoever reads it on a dashboard."""

    _unrecorded_attributes = frozenset({"dish", "reasons"})

    @override
    def _attributes(self, result: Result | None) -> dict[str, Any]:
        advice = None if result is None else result.advice
        if advice is None:
            return {}
        speech = english(self.coordinator.boat.time_zone)
        return {"dish": advice.dish, "reasons": speech.say_all(advice.reasons)}
