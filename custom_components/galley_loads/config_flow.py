"""Set-up of a boat: sensors first, then bank, inverter, array, name and place.

Each step edits one section of the boat description; changing a boat later shows the same
forms. A boat file does all of it at once.
"""

from typing import Any, override
from zoneinfo import available_timezones

from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    ConfigEntry,
    ConfigFlow,
    ConfigFlowResult,
    ConfigSubentryFlow,
    OptionsFlow,
)
from homeassistant.const import CONF_LATITUDE, CONF_LONGITUDE, CONF_NAME
from homeassistant.core import callback
from homeassistant.data_entry_flow import AbortFlow
import probatio

from .boat.boat_entry import boat_mapping, entry_from_mapping, mapping_from_entry
from .boat.claims import claim_of_another, claims_in, load_meters
from .boat.reversed_meters import one_way_meters, reversed_of, with_reversed
from .boat.sensor_check import (
    ROLES,
    Quantity,
    recorded_unit,
    sensor_problem,
    sensors_of,
    unfit_for,
)
from .const import (
    CONF_BANK,
    CONF_INVERTER,
    CONF_POWER_SENSOR,
    CONF_REVERSED,
    CONF_SENSORS,
    CONF_SOLAR,
    CONF_TIME_ZONE,
    CONF_UNITS,
    DOMAIN,
    SUBENTRY_APPLIANCE,
    SUBENTRY_CIRCUIT,
    SUBENTRY_DISH,
)
from .core.boat.boat_problems import BoatError, Fault, Problem
from .core.boat.boat_schema import SECTIONS, boat_problems
from .flows.appliance import ApplianceFlow
from .flows.boat_file_form import BOAT_FILE_FORM, async_mapping_from_file
from .flows.circuit import CircuitFlow
from .flows.dish import DishFlow
from .flows.forms import (
    BANK_FORM,
    CONF_LOCATION,
    INVERTER_FORM,
    answers_of,
    boat_form,
    form_errors,
    section_of,
    sensors_form,
    solar_form,
    with_gaps,
)
from .flows.options import GalleyOptionsFlow
from .flows.suggestions import async_forecasts, async_suggest_sensors

BANK_SUGGESTED = {"nominal_voltage": 12.8, "reserve_soc": 30, "chemistry": "lfp"}


def boat_unique_id(name: str) -> str:
    """Return what keeps two boats from having the same name."""
    return name.strip().casefold()


class GalleyConfigFlow(ConfigFlow, domain=DOMAIN):
    """Sets a boat up, or changes one."""

    VERSION = 1
    MINOR_VERSION = 1

    def __init__(self) -> None:
        """Start with an empty description."""
        self._data: dict[str, Any] = {}

    @staticmethod
    @callback
    @override
    def async_get_options_flow(config_entry: ConfigEntry) -> OptionsFlow:
        """Return the form of the options."""
        return GalleyOptionsFlow()

    @classmethod
    @callback
    @override
    def async_get_supported_subentry_types(
        cls, config_entry: ConfigEntry
    ) -> dict[str, type[ConfigSubentryFlow]]:
        """Return what a boat is made of, and the form of each."""
        return {
            SUBENTRY_APPLIANCE: ApplianceFlow,
            SUBENTRY_CIRCUIT: CircuitFlow,
            SUBENTRY_DISH: DishFlow,
        }

    @property
    def _changes_a_boat(self) -> bool:
        return self.source == SOURCE_RECONFIGURE

    @property
    def _own_entry(self) -> ConfigEntry | None:
        return self._get_reconfigure_entry() if self._changes_a_boat else None

    @override
    async def async_step_user(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Ask for the way."""
        return self.async_show_menu(
            step_id="user", menu_options=["sensors", "boat_file"]
        )

    async def async_step_reconfigure(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Ask which part of the boat is to be changed."""
        self._data = dict(self._get_reconfigure_entry().data)
        return self.async_show_menu(
            step_id="reconfigure",
            menu_options=["sensors", "bank", "inverter", "solar", "boat"],
        )

    async def async_step_sensors(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Choose the sensors that the boat has."""
        form = sensors_form({one: unfit_for(self.hass, one) for one in Quantity})
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        if user_input is not None:
            sensors = section_of(user_input)
            turned = sensors.pop(CONF_REVERSED, [])
            errors, placeholders = form_errors(
                SECTIONS[CONF_SENSORS].problems(sensors), form
            )
            if errors.get("base") == Fault.NO_LOAD:
                errors = {"base": "no_way_to_load"}
            errors = errors or self._sensor_errors(sensors)
            meters = one_way_meters(sensors)
            if not errors and (unfit := [one for one in turned if one not in meters]):
                errors = {CONF_REVERSED: "not_one_way"}
                placeholders = {"problem": ", ".join(unfit)}
            if not errors:
                self._abort_if_another_boat_has(sensors)
                errors, placeholders = self._claim_errors(sensors)
            if not errors:
                meters += one_way_meters(self._data.get(CONF_SENSORS, {}))
                self._data = with_reversed(self._data, meters, turned)
                self._data[CONF_SENSORS] = sensors
                self._note_units(sensors_of(sensors))
                errors, placeholders = await self._async_whole_errors(form)
            if not errors:
                return await self._async_next("sensors")
        suggested = user_input
        if suggested is None and CONF_SENSORS in self._data:
            sensors = self._data[CONF_SENSORS]
            suggested = answers_of(SECTIONS[CONF_SENSORS].assumed | sensors, form)
            if turned := reversed_of(self._data, one_way_meters(sensors)):
                suggested[CONF_REVERSED] = turned
        elif suggested is None:
            suggested = {
                **SECTIONS[CONF_SENSORS].assumed,
                **self._not_claimed(await async_suggest_sensors(self.hass)),
            }
        return self._form("sensors", form, suggested, errors, placeholders)

    async def async_step_bank(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Describe the battery bank."""
        return await self._async_section_step(
            CONF_BANK, BANK_FORM, user_input, BANK_SUGGESTED
        )

    async def async_step_inverter(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Describe the inverter; an empty form means there is none."""
        return await self._async_section_step(CONF_INVERTER, INVERTER_FORM, user_input)

    async def async_step_solar(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Describe the solar array; an empty form means there is none."""
        form = solar_form(await async_forecasts(self.hass))
        return await self._async_section_step(CONF_SOLAR, form, user_input)

    async def async_step_boat(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Name the boat and say where it lies."""
        zones = await self.hass.async_add_executor_job(available_timezones)
        form = boat_form(zones)
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        if user_input is not None:
            self._data |= {
                CONF_NAME: user_input[CONF_NAME].strip(),
                CONF_LATITUDE: user_input[CONF_LOCATION][CONF_LATITUDE],
                CONF_LONGITUDE: user_input[CONF_LOCATION][CONF_LONGITUDE],
                CONF_TIME_ZONE: user_input[CONF_TIME_ZONE],
            }
            problems = await self._async_problems()
            errors, placeholders = form_errors(problems, form)
            if not errors and self._name_is_taken():
                errors = {CONF_NAME: "name_taken"}
            if not errors:
                return await self._async_next("boat")
        suggested = user_input or {
            CONF_NAME: self._data.get(CONF_NAME),
            CONF_LOCATION: {
                key: self._data.get(key, getattr(self.hass.config, key))
                for key in (CONF_LATITUDE, CONF_LONGITUDE)
            },
            CONF_TIME_ZONE: self._data.get(CONF_TIME_ZONE, self.hass.config.time_zone),
        }
        return self._form("boat", form, suggested, errors, placeholders)

    async def async_step_boat_file(
        self, user_input: dict[str, Any] | None = None
    ) -> ConfigFlowResult:
        """Take a whole boat from a file or from text."""
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        if user_input is not None:
            try:
                mapping = await async_mapping_from_file(self.hass, user_input)
            except BoatError as error:
                errors, placeholders = form_errors(error.problems, BOAT_FILE_FORM)
            else:
                parts = entry_from_mapping(mapping)
                self._data = parts.data
                self._note_units(
                    sensors_of(parts.data[CONF_SENSORS])
                    | {
                        part["data"][CONF_POWER_SENSOR]: Quantity.POWER
                        for part in parts.subentries
                        if CONF_POWER_SENSOR in part["data"]
                    }
                )
                unfit = self._sensor_errors(parts.data[CONF_SENSORS], may_miss=True)
                claim = None
                if not unfit:
                    await self.async_set_unique_id(boat_unique_id(parts.title))
                    self._abort_if_unique_id_configured()
                    self._abort_if_another_boat_has(parts.data[CONF_SENSORS])
                    claim = claim_of_another(self.hass, claims_in(parts), None)
                if not unfit and claim is None:
                    return self.async_create_entry(
                        title=parts.title,
                        data=self._data,
                        options=parts.options,
                        subentries=parts.subentries,
                        description="boat_file",
                    )
                errors = {"base": "sensor_unfit" if unfit else "claimed"}
                placeholders = {
                    "problem": ", ".join(unfit) if claim is None else claim.problem
                }
        return self._form("boat_file", BOAT_FILE_FORM, user_input, errors, placeholders)

    async def _async_section_step(
        self,
        name: str,
        form: probatio.Schema,
        user_input: dict[str, Any] | None,
        defaults: dict[str, Any] | None = None,
    ) -> ConfigFlowResult:
        errors: dict[str, str] = {}
        placeholders = {"problem": ""}
        if user_input is not None:
            found = section_of(user_input)
            if not found and name != CONF_BANK:
                self._data.pop(name, None)
            else:
                problems = SECTIONS[name].problems(found)
                errors, placeholders = form_errors(problems, form)
                self._data[name] = found
            if not errors:
                errors, placeholders = await self._async_whole_errors(form)
            if not errors:
                return await self._async_next(name)
        suggested = user_input
        if suggested is None and name in self._data:
            suggested = answers_of(SECTIONS[name].assumed | self._data[name], form)
        elif suggested is None:
            suggested = answers_of(defaults or {}, form)
        return self._form(name, form, suggested, errors, placeholders)

    async def _async_next(self, done: str) -> ConfigFlowResult:
        """Go on to the next step, or finish."""
        if self._changes_a_boat:
            return self._update_boat(done)
        match done:
            case "sensors":
                return await self.async_step_bank()
            case "bank":
                return await self.async_step_inverter()
            case "inverter":
                return await self.async_step_solar()
            case "solar":
                return await self.async_step_boat()
        name = self._data[CONF_NAME]
        await self.async_set_unique_id(boat_unique_id(name))
        self._abort_if_unique_id_configured()
        return self.async_create_entry(title=name, data=self._data)

    def _update_boat(self, done: str) -> ConfigFlowResult:
        entry = self._get_reconfigure_entry()
        return self.async_update_and_abort(
            entry,
            unique_id=boat_unique_id(self._data[CONF_NAME]),
            title=self._data[CONF_NAME] if done == "boat" else entry.title,
            data=self._data,
        )

    async def _async_whole_errors(
        self, form: probatio.Schema
    ) -> tuple[dict[str, str], dict[str, str]]:
        """Return why a changed part does not fit the rest of the boat.

        While a boat is set up the rest is not there yet; the last step looks at all of it.
        """
        if not self._changes_a_boat:
            return {}, {"problem": ""}
        return form_errors(await self._async_problems(), form)

    def _form(
        self,
        step: str,
        form: probatio.Schema,
        suggested: dict[str, Any] | None,
        errors: dict[str, str],
        placeholders: dict[str, str],
    ) -> ConfigFlowResult:
        return self.async_show_form(
            step_id=step,
            data_schema=self.add_suggested_values_to_schema(
                form, with_gaps(form, suggested)
            ),
            errors=errors,
            description_placeholders=placeholders,
            last_step=self._changes_a_boat or step in ("boat", "boat_file"),
        )

    async def _async_problems(self) -> tuple[Problem, ...]:
        """Return what is wrong with the whole boat as it would be."""
        if self._changes_a_boat:
            mapping = mapping_from_entry(self._get_reconfigure_entry())
            mapping = {
                key: part for key, part in mapping.items() if key not in SECTIONS
            } | boat_mapping(self._data)
        else:
            mapping = boat_mapping(self._data)
        # A time zone is read from a file.
        return await self.hass.async_add_executor_job(boat_problems, mapping)

    def _sensor_errors(
        self, sensors: dict[str, Any], *, may_miss: bool = False
    ) -> dict[str, str]:
        """Return what is wrong with each sensor by role, as the platform knows them."""
        errors: dict[str, str] = {}
        for role, quantity in ROLES.items():
            chosen = sensors.get(role) or []
            for entity_id in chosen if isinstance(chosen, list) else [chosen]:
                problem = sensor_problem(self.hass, quantity, entity_id)
                if problem and not (may_miss and problem == "sensor_missing"):
                    errors[role] = problem
        return errors

    def _note_units(self, quantities: dict[str, Quantity]) -> None:
        """Note the units of the boat's sensors that are not the base unit."""
        units = dict(self._data.get(CONF_UNITS, {}))
        for entity_id, quantity in quantities.items():
            if unit := recorded_unit(self.hass, quantity, entity_id):
                units[entity_id] = unit
        if units:
            self._data[CONF_UNITS] = units

    def _name_is_taken(self) -> bool:
        unique_id = boat_unique_id(self._data[CONF_NAME])
        return any(
            entry.unique_id == unique_id and entry is not self._own_entry
            for entry in self._async_current_entries()
        )

    def _abort_if_another_boat_has(self, sensors: dict[str, Any]) -> None:
        """Abort where another boat's load is measured by the same sensors."""
        load = load_meters(sensors)
        for entry in self._async_current_entries():
            others = load_meters(entry.data.get(CONF_SENSORS, {}))
            if entry is not self._own_entry and load == others:
                raise AbortFlow("already_configured")

    def _not_claimed(self, suggested: dict[str, Any]) -> dict[str, Any]:
        """Return what is suggested without the load meters of other boats."""
        taken = self._claim_errors(suggested)[0]
        while taken:
            suggested = {k: v for k, v in suggested.items() if k not in taken}
            taken = self._claim_errors(suggested)[0]
        return suggested

    def _claim_errors(
        self, sensors: dict[str, Any]
    ) -> tuple[dict[str, str], dict[str, str]]:
        """Return the error of the first load meter that is another boat's."""
        for role, meter in load_meters(sensors).items():
            claim = claim_of_another(self.hass, [meter], self._own_entry)
            if claim is not None:
                return {role: "claimed"}, {"problem": claim.problem}
        return {}, {"problem": ""}
