"""The form of the options."""

from typing import Any, Final

from homeassistant.config_entries import ConfigFlowResult, OptionsFlow
from homeassistant.const import PERCENTAGE, UnitOfTime
import probatio

from ..const import CONF_MEAL_GAP, CONF_STOVE_EFFICIENCY
from ..core.boat.boat import DEFAULT_MEAL_GAP_MINUTES
from ..core.meals.bottled_gas import DEFAULT_GAS_HOB_EFFICIENCY, GAS_EFFICIENCY_RANGE
from ..watch.watch_options import (
    CONF_ALERTS,
    alerts_from_form,
    alerts_section,
    has_half_quiet_hours,
    present_alerts,
)
from .fields import number_field

_LEAST, _MOST = (round(100 * share) for share in GAS_EFFICIENCY_RANGE)

OPTIONS_FORM: Final = probatio.Schema(
    {
        probatio.Required(CONF_MEAL_GAP): number_field(UnitOfTime.MINUTES, 1, (1, 720)),
        probatio.Optional(CONF_STOVE_EFFICIENCY): number_field(
            PERCENTAGE, 1, (_LEAST, _MOST)
        ),
    }
)

DEFAULTS: Final = {
    CONF_MEAL_GAP: DEFAULT_MEAL_GAP_MINUTES,
    CONF_STOVE_EFFICIENCY: round(100 * DEFAULT_GAS_HOB_EFFICIENCY),
}


class GalleyOptionsFlow(OptionsFlow):
    """Changes how meals are put together, and who is told what."""

    async def async_step_init(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Show the options."""
        options = self.config_entry.options
        errors: dict[str, str] = {}
        if user_input is not None and has_half_quiet_hours(
            user_input.get(CONF_ALERTS, {})
        ):
            errors = {"base": "half_quiet_hours"}
        elif user_input is not None:
            answers = dict(user_input)
            if (alerts := answers.pop(CONF_ALERTS, None)) is not None:
                answers[CONF_ALERTS] = alerts_from_form(alerts)
            # An efficiency that was cleared is the default again.
            kept = {k: v for k, v in options.items() if k != CONF_STOVE_EFFICIENCY}
            return self.async_create_entry(data={**kept, **answers})
        alerts = present_alerts(options)
        form = OPTIONS_FORM.extend(
            {probatio.Optional(CONF_ALERTS): alerts_section(self.hass, alerts)}
        )
        return self.async_show_form(
            step_id="init",
            data_schema=self.add_suggested_values_to_schema(
                form, user_input or {**DEFAULTS, **options, CONF_ALERTS: alerts}
            ),
            errors=errors,
        )
