"""Sensors that write a state only when it is worth one, and counters that never fall."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, override

from homeassistant.components.sensor import (
    RestoreSensor,
    SensorEntity,
    SensorExtraStoredData,
)
from homeassistant.util import dt as dt_util
from ulid_transform import ulid_to_timestamp

from ..entity import GalleyEntity
from .shown_step import ShownStep

COUNTER_ID: Final = "counter_id"

type Value = float | str | datetime | None


class ValueSensor(GalleyEntity, SensorEntity):
    """A value that is written when it changed enough to matter."""

    def _show(
        self,
        known: bool,
        value: Value,
        step: ShownStep | None = None,
        attributes: Mapping[str, Any] | None = None,
    ) -> bool:
        """Take over a value; return whether a state is to be written.

        A value that is None while its source is `known` shows as unknown. `step` is the
        smallest change of a number that counts, None where every change does.
        """
        shown = self._attr_native_value
        if isinstance(value, float) and step is not None:
            value = step.rounded(value)
            if (
                known == self._attr_available
                and isinstance(shown, float)
                and not step.is_worth_writing(shown, value)
            ):
                value = shown
        extra = dict(attributes or {})
        before = (
            self._attr_available,
            shown,
            getattr(self, "_attr_extra_state_attributes", {}),
        )
        if (known, value, extra) == before:
            return False
        self._attr_available, self._attr_native_value = known, value
        self._attr_extra_state_attributes = extra
        return True


@dataclass
class StoredCounter(SensorExtraStoredData):
    """What a counter showed, and which one it was."""

    counter_id: str | None

    @override
    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {**super().as_dict(), COUNTER_ID: self.counter_id}


class CounterSensor(ValueSensor, RestoreSensor):
    """A counter: it shows what was written to disk, and never falls.

    So what is shown survives a power cut; it stays while the boat's sensors are away. A
    boat or a part that was deleted and is added again has the old entity ids and is yet
    another counter: it takes over nothing, and says by its last reset that it began anew,
    so that the platform's statistics neither fall nor count the old one twice.
    """

    _least = 0.0

    def _counted(self) -> float:
        """Return the counter as it was written to disk."""
        raise NotImplementedError

    @override
    async def async_added_to_hass(self) -> None:
        """Go on from the highest value that was ever shown."""
        self._attr_last_reset = self._began()
        last = await self.async_get_last_sensor_data()
        if last is not None and isinstance(last.native_value, int | float):
            self._least = float(last.native_value)
        await super().async_added_to_hass()

    @property
    @override
    def extra_restore_state_data(self) -> StoredCounter:
        """What is kept over restarts."""
        return StoredCounter(
            self.native_value, self.native_unit_of_measurement, self.unique_id
        )

    @override
    async def async_get_last_sensor_data(self) -> SensorExtraStoredData | None:
        """Return what this counter showed last; another one of its name is none of it."""
        stored = await self.async_get_last_extra_data()
        if stored is None or stored.as_dict().get(COUNTER_ID) != self.unique_id:
            return None
        return await super().async_get_last_sensor_data()

    def _began(self) -> datetime:
        """Return when the boat, or the part that is counted, was added.

        It is kept in whole seconds: the platform compares it with what it has stored.
        """
        began = self.coordinator.config_entry.created_at
        part_id: str | None = getattr(self, "subentry_id", None)
        if part_id is not None:
            added_s = ulid_to_timestamp(part_id) / 1000.0
            began = max(began, dt_util.utc_from_timestamp(added_s))
        return began.replace(microsecond=0)

    @override
    def _refresh(self) -> bool:
        return self._show(True, max(self._least, round(self._counted(), 2)))
