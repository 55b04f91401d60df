"""The form of an appliance."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, Final

from homeassistant.config_entries import SubentryFlowResult
from homeassistant.const import CONF_NAME, UnitOfPower
from homeassistant.helpers.selector import (
    BooleanSelector,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TextSelector,
)
import probatio

from ..boat.boat_entry import BoatPart
from ..boat.boat_sensors import quantities_of
from ..boat.reversed_meters import reversed_of, with_reversed
from ..boat.sensor_check import Quantity, recorded_unit, sensor_problem, unfit_for
from ..const import (
    CONF_CIRCUIT,
    CONF_POWER_SENSOR,
    CONF_REVERSED,
    CONF_UNITS,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
)
from ..core.boat.boat import Supply
from ..core.kinds.catalogue import KINDS
from .fields import entity_field, number_field, part_field, word_field
from .forms import section_of
from .part_flow import PartFlow, named_answers
from .suggestions import async_suggest_meters

CONF_METER: Final = "meter"
CONF_RATED_POWER: Final = "rated_power"


def appliance_form(
    circuits: Sequence[BoatPart], more: Mapping[Any, Any] | None = None
) -> probatio.Schema:
    """Return the form of an appliance: what is always asked, more of it, its circuit."""
    fields: dict[Any, Any] = {
        probatio.Required(CONF_NAME): TextSelector(),
        probatio.Required("kind"): word_field(KINDS, "kind"),
        probatio.Required(CONF_RATED_POWER): number_field(UnitOfPower.WATT),
        **(more or {}),
    }
    if circuits:
        fields[probatio.Optional(CONF_CIRCUIT)] = part_field(circuits)
    return probatio.Schema(fields)


class ApplianceFlow(PartFlow):
    """Adds or changes an appliance."""

    part_type: ClassVar[str] = SUBENTRY_APPLIANCE

    def __init__(self) -> None:
        """Start with nothing known but the usual."""
        self._asked = False
        self._meters: dict[str, str] = {}
        self._suggested: dict[str, Any] = {"supply": Supply.AC.value}

    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Add an appliance; first ask which, if the energy dashboard knows some."""
        if user_input is None and not self._asked:
            self._asked = True
            self._meters = await async_suggest_meters(
                self.hass, quantities_of(self._get_entry())
            )
            if self._meters:
                return await self.async_step_choose()
        return await self._async_step("user", user_input)

    async def async_step_choose(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Ask whether it is one of the energy dashboard's devices."""
        return self.async_show_menu(step_id="choose", menu_options=["metered", "plain"])

    async def async_step_plain(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Go on with an empty form."""
        return await self._async_step("user", None)

    async def async_step_metered(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Choose one of the energy dashboard's devices."""
        if user_input is not None:
            meter = user_input[CONF_METER]
            self._suggested |= {
                CONF_NAME: self._meters[meter],
                CONF_POWER_SENSOR: meter,
            }
            return await self._async_step("user", None)
        options = [
            SelectOptionDict(value=meter, label=name)
            for meter, name in self._meters.items()
        ]
        form = probatio.Schema(
            {
                probatio.Required(CONF_METER): SelectSelector(
                    SelectSelectorConfig(options=options, mode=SelectSelectorMode.LIST)
                )
            }
        )
        return self.show("metered", form, None, {}, {})

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> SubentryFlowResult:
        """Change an appliance."""
        return await self._async_step("reconfigure", user_input)

    def _form(self) -> probatio.Schema:
        more: dict[Any, Any] = {
            probatio.Optional("standby_power"): number_field(UnitOfPower.WATT, 0.1),
            probatio.Optional(CONF_POWER_SENSOR): entity_field(
                Quantity.POWER, left_out=unfit_for(self.hass, Quantity.POWER)
            ),
            probatio.Optional(CONF_REVERSED): BooleanSelector(),
            probatio.Optional("supply"): word_field(Supply, "supply"),
        }
        return appliance_form(self.parts(SUBENTRY_CIRCUIT), more)

    async def _async_step(
        self, step: str, user_input: dict[str, Any] | None
    ) -> SubentryFlowResult:
        form = self._form()
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        suggested = user_input
        if user_input is not None:
            data = section_of(user_input)
            name = data.pop(CONF_NAME, "").strip()
            is_reversed = data.pop(CONF_REVERSED, False)
            errors, placeholders = await self.async_errors(name, data, form)
            meter = data.get(CONF_POWER_SENSOR)
            if not errors and meter:
                problem = sensor_problem(self.hass, Quantity.POWER, meter)
                errors = {CONF_POWER_SENSOR: problem} if problem else {}
            if not errors and meter:
                errors, placeholders = self.claim_errors(CONF_POWER_SENSOR, meter)
            if not errors and is_reversed and not meter:
                errors = {CONF_REVERSED: "no_meter"}
            if not errors:
                self._note_meter(meter, is_reversed)
                return self.finish(name, data)
        elif (changed := self._changed) is not None:
            suggested = named_answers(changed)
            meters = [changed.data.get(CONF_POWER_SENSOR, "")]
            suggested[CONF_REVERSED] = bool(reversed_of(self._get_entry().data, meters))
        else:
            suggested = self._suggested
        return self.show(step, form, suggested, errors, placeholders)

    def _note_meter(self, meter: str | None, is_reversed: bool) -> None:
        """Note unit and direction of the appliance's own meter with those of the boat."""
        entry, changed = self._get_entry(), self._changed
        before = changed.data.get(CONF_POWER_SENSOR) if changed else None
        data = with_reversed(
            entry.data,
            [one for one in (before, meter) if one],
            [meter] if meter and is_reversed else [],
        )
        if meter and (unit := recorded_unit(self.hass, Quantity.POWER, meter)):
            data[CONF_UNITS] = {**data.get(CONF_UNITS, {}), meter: unit}
        self.hass.config_entries.async_update_entry(entry, data=data)
