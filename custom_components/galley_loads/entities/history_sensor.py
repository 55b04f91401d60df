"""How far the recorder's past is read."""

from typing import override

from homeassistant.components.sensor import SensorEntity, SensorEntityDescription
from homeassistant.const import PERCENTAGE, EntityCategory

from ..coordinator import GalleyCoordinator
from ..entity import BoatEntity

DESCRIPTION = SensorEntityDescription(
    key="history_read",
    translation_key="history_read",
    native_unit_of_measurement=PERCENTAGE,
    suggested_display_precision=0,
    entity_category=EntityCategory.DIAGNOSTIC,
)


class HistorySensor(BoatEntity, SensorEntity):
    """The part of the past that is read; unknown if it never was."""

    def __init__(self, coordinator: GalleyCoordinator) -> None:
        """Show what the backfill of the boat does."""
        super().__init__(coordinator, DESCRIPTION)
        self._attr_available = True

    @override
    def _refresh(self) -> bool:
        share = self.coordinator.backfill.progress.share
        value = None if share is None else float(int(100 * share))
        if value == self._attr_native_value:
            return False
        self._attr_native_value = value
        return True
