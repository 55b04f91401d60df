"""Which dish the crew plans to cook next."""

from dataclasses import dataclass
from typing import Any, Final, Self, override

from homeassistant.components.select import SelectEntity, SelectEntityDescription
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.restore_state import ExtraStoredData, RestoreEntity

from .boat.boat_entry import parts_of
from .const import SUBENTRY_DISH
from .core.boat.boat import Dish
from .entity import BoatEntity
from .runtime import GalleyConfigEntry, GalleyRuntime

PARALLEL_UPDATES = 0

NOTHING_PLANNED: Final = "nothing_planned"

PLANNED_DISH = SelectEntityDescription(
    key="planned_dish", translation_key="planned_dish"
)


@dataclass(frozen=True, slots=True)
class StoredPlannedDish(ExtraStoredData):
    """The plan as it is kept over restarts: by the dish's id, which outlives its name."""

    subentry_id: str | None

    @override
    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {"subentry_id": self.subentry_id}

    @classmethod
    def from_dict(cls, stored: dict[str, Any]) -> Self:
        """Return what `as_dict` gave."""
        return cls(stored.get("subentry_id"))


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GalleyConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the boat's selector."""
    async_add_entities([PlannedDishSelect(entry.runtime_data, PLANNED_DISH)])


class PlannedDishSelect(BoatEntity, SelectEntity, RestoreEntity):
    """The planned dish; advice is given on it."""

    def __init__(
        self, runtime: GalleyRuntime, description: SelectEntityDescription
    ) -> None:
        """Offer the boat's dishes."""
        super().__init__(runtime, description)
        known = {dish.name: dish for dish in runtime.coordinator.boat.dishes}
        # A dish that lost all its appliances is a subentry but cannot be planned.
        self._dishes: dict[str, Dish] = {}
        self._names: dict[str, str] = {}
        for part in parts_of(runtime.coordinator.config_entry, SUBENTRY_DISH):
            if part.name in known:
                self._dishes[part.part_id] = known[part.name]
                self._names[part.name] = part.part_id
        self._planned: str | None = None
        self._attr_options = [NOTHING_PLANNED, *self._names]
        self._attr_current_option = NOTHING_PLANNED

    @override
    async def async_added_to_hass(self) -> None:
        """Go on with what was planned before the restart."""
        await super().async_added_to_hass()
        if (stored := await self.async_get_last_extra_data()) is not None:
            self._plan(StoredPlannedDish.from_dict(stored.as_dict()).subentry_id)

    @property
    @override
    def extra_restore_state_data(self) -> StoredPlannedDish:
        """What is kept over restarts."""
        return StoredPlannedDish(self._planned)

    @override
    def _refresh(self) -> bool:
        self._attr_available = True
        return False

    @override
    async def async_select_option(self, option: str) -> None:
        """Plan a dish, or nothing."""
        self._plan(self._names.get(option))
        self.async_write_ha_state()

    @callback
    def _plan(self, subentry_id: str | None) -> None:
        dish = None if subentry_id is None else self._dishes.get(subentry_id)
        self._planned = None if dish is None else subentry_id
        self._attr_current_option = NOTHING_PLANNED if dish is None else dish.name
        self.runtime.advice.async_plan(dish)
