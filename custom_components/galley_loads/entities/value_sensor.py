"""Sensors that write a state only when it is worth one, and counters that never fall."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, override

from homeassistant.components.sensor import RestoreSensor, SensorEntity

from ..entity import GalleyEntity
from .shown_step import ShownStep

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


class CounterSensor(ValueSensor, RestoreSensor):
    """A counter: it shows what was written to disk, and never falls.

    So what is shown survives a power cut; it stays while the boat's sensors are away.
    """

    _least = 0.0

    def _counted(self) -> float:
        """Return the counter as it was written to disk."""
        raise NotImplementedError

    @override
    async def async_added_to_hass(self) -> None:
        """Go on from the highest value that was ever shown."""
        last = await self.async_get_last_sensor_data()
        if last is not None and isinstance(last.native_value, int | float):
            self._least = float(last.native_value)
        await super().async_added_to_hass()

    @override
    def _refresh(self) -> bool:
        return self._show(True, max(self._least, round(self._counted(), 2)))
