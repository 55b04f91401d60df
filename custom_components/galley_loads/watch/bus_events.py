"""Events on the platform's event bus: a run or a meal that has just become certain."""

from dataclasses import asdict
from typing import Any

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..const import DOMAIN, EVENT_MEAL_FINISHED, EVENT_RUN_FINISHED
from ..coordinator import GalleyCoordinator
from ..core.events import Event, MealSettled, RunSettled
from ..core.meals.expected_meals import ExpectedMeals


@callback
def async_report_settled(
    hass: HomeAssistant, coordinator: GalleyCoordinator, expected: ExpectedMeals
) -> CALLBACK_TYPE:
    """Fire an event for each run and meal that becomes certain, until unsubscribed."""
    entry = coordinator.config_entry
    subentry_ids = {
        name: subentry_id for subentry_id, name in coordinator.appliance_names.items()
    }
    registry = er.async_get(hass)

    def entity_id(platform: str, unique_id: str) -> str | None:
        return registry.async_get_entity_id(platform, DOMAIN, unique_id)

    @callback
    def report(events: list[Event], is_news: bool) -> None:
        if not is_news:
            return
        common: dict[str, Any] = {"entry_id": entry.entry_id, "boat": entry.title}
        for event in events:
            match event:
                case RunSettled(run):
                    subentry_id = subentry_ids.get(run.appliance, "")
                    data = common | asdict(run)
                    data.pop("phases")
                    data["entity_id"] = entity_id(
                        "binary_sensor", f"{subentry_id}_running"
                    )
                    hass.bus.async_fire(EVENT_RUN_FINISHED, data)
                case MealSettled(meal):
                    data = common | asdict(meal)
                    data.pop("runs")
                    data["appliances"] = list(meal.appliances)
                    data["entity_id"] = entity_id(
                        "sensor", f"{entry.entry_id}_last_meal"
                    )
                    planned = expected.reckon(meal)
                    if planned is not None:
                        data["dish"] = planned.dish
                        data["expected_wh"] = planned.expected_wh
                        data["difference_wh"] = planned.difference_wh
                    hass.bus.async_fire(EVENT_MEAL_FINISHED, data)

    return coordinator.async_subscribe(report)
