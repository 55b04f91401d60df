"""The form of the options."""

from typing import Any, Final

from homeassistant.config_entries import ConfigFlowResult, OptionsFlow
from homeassistant.const import UnitOfTime
import probatio

from ..const import CONF_MEAL_GAP
from ..core.boat import DEFAULT_MEAL_GAP_MINUTES
from .fields import number_field

OPTIONS_FORM: Final = probatio.Schema(
    {probatio.Required(CONF_MEAL_GAP): number_field(1, 720, UnitOfTime.MINUTES)}
)

DEFAULTS: Final = {CONF_MEAL_GAP: DEFAULT_MEAL_GAP_MINUTES}


class GalleyOptionsFlow(OptionsFlow):
    """Changes how a boat's meals are put together."""

    async def async_step_init(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show the options."""
        if user_input is not None:
            return self.async_create_entry(
                data={**self.config_entry.options, **user_input}
            )
        return self.async_show_form(
            step_id="init",
            data_schema=self.add_suggested_values_to_schema(
                OPTIONS_FORM, {**DEFAULTS, **self.config_entry.options}
            ),
        )
