"""How far the recorder's past is read."""

from typing import override

from homeassistant.components.sensor import SensorEntity, SensorEntityDescription
from homeassistant.const import PERCENTAGE, EntityCategory

from ..entity import BoatEntity
from ..runtime import GalleyRuntime

DESCRIPTION = SensorEntityDescription(
    key="history_read",
    translation_key="history_read",
    native_unit_of_measurement=PERCENTAGE,
    suggested_display_precision=0,
    entity_category=EntityCategory.DIAGNOSTIC,
)


class HistorySensor(BoatEntity, SensorEntity):
    """The part of the past that is read; unknown if it never was."""

    def __init__(self, runtime: GalleyRuntime) -> None:
        """Show what the backfill of the boat does."""
        super().__init__(runtime, DESCRIPTION)
        self._attr_available = True

    @override
    def _refresh(self) -> bool:
        share = self.runtime.backfill.progress.share
        value = None if share is None else float(int(100 * share))
        if value == self._attr_native_value:
            return False
        self._attr_native_value = value
        return True
