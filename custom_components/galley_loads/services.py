"""The actions of the integration, registered once for all boats."""

from homeassistant.core import HomeAssistant, callback

from .actions.advice_actions import async_setup_advice_actions
from .actions.cut_actions import async_setup_cut_actions
from .actions.history_actions import async_setup_history_actions
from .actions.learn_actions import async_setup_learn_actions
from .actions.meal_actions import async_setup_meal_actions


@callback
def async_setup_services(hass: HomeAssistant) -> None:
    """Register all actions."""
    async_setup_advice_actions(hass)
    async_setup_cut_actions(hass)
    async_setup_learn_actions(hass)
    async_setup_meal_actions(hass)
    async_setup_history_actions(hass)
