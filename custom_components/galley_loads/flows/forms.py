"""The forms of a boat's own sections, and how their answers become sections.

A form's answers have the keys of the boat file. Only shares differ: people write them in
percent, the file as a number up to 1.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Final

from homeassistant.const import (
    CONF_NAME,
    PERCENTAGE,
    UnitOfElectricCurrent,
    UnitOfElectricPotential,
    UnitOfPower,
    UnitOfTime,
)
from homeassistant.data_entry_flow import section
from homeassistant.helpers.selector import (
    EntitySelector,
    LocationSelector,
    LocationSelectorConfig,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TextSelector,
)
import probatio

from ..boat.sensor_check import ROLES, SEVERAL, Quantity
from ..const import CONF_FORECAST, CONF_REVERSED, CONF_TIME_ZONE
from ..core.boat.boat import Chemistry
from ..core.boat.boat_problems import Problem
from ..language.speech import english
from .fields import entity_field, number_field, word_field

CONF_BATTERY_POSITIVE: Final = "battery_power_positive"
CONF_DETAILS: Final = "details"
CONF_LOCATION: Final = "location"

SHARES: Final = ("efficiency", "charge_efficiency")

_PERCENT = number_field(PERCENTAGE, 0.1, (30, 100))
_OPTIONAL_WATTS = number_field(UnitOfPower.WATT, 0.1)

BANK_FORM: Final = probatio.Schema(
    {
        probatio.Required("capacity_ah"): number_field("Ah"),
        probatio.Required("nominal_voltage"): number_field(
            UnitOfElectricPotential.VOLT, 0.1
        ),
        probatio.Required("reserve_soc"): number_field(PERCENTAGE),
        probatio.Optional("chemistry"): word_field(Chemistry, "chemistry"),
        probatio.Optional("max_discharge_current"): number_field(
            UnitOfElectricCurrent.AMPERE
        ),
        probatio.Optional(CONF_DETAILS): section(
            probatio.Schema(
                {
                    probatio.Optional("charge_efficiency"): _PERCENT,
                    probatio.Optional("peukert_exponent"): number_field(
                        None, 0.01, (1, 2)
                    ),
                    probatio.Optional("rated_hours"): number_field(
                        UnitOfTime.HOURS, 1, (1, 200)
                    ),
                }
            ),
            {"collapsed": True},
        ),
    }
)

INVERTER_FORM: Final = probatio.Schema(
    {
        probatio.Optional("continuous_power"): number_field(UnitOfPower.WATT),
        probatio.Optional("idle_power"): _OPTIONAL_WATTS,
        probatio.Optional("efficiency"): _PERCENT,
    }
)


def sensors_form(left_out: Mapping[Quantity, Iterable[str]]) -> probatio.Schema:
    """Return the form of the sensors, with what not to list by quantity."""

    def field(quantity: Quantity, *, several: bool) -> EntitySelector:
        return entity_field(
            quantity, left_out=left_out.get(quantity, ()), several=several
        )

    return probatio.Schema(
        {
            **{
                probatio.Optional(role): field(quantity, several=role in SEVERAL)
                for role, quantity in ROLES.items()
            },
            probatio.Optional(CONF_BATTERY_POSITIVE): SelectSelector(
                SelectSelectorConfig(
                    options=["charging", "discharging"],
                    mode=SelectSelectorMode.LIST,
                    translation_key=CONF_BATTERY_POSITIVE,
                )
            ),
            probatio.Optional(CONF_REVERSED): field(Quantity.POWER, several=True),
        }
    )


def solar_form(forecasts: Iterable[SelectOptionDict]) -> probatio.Schema:
    """Return the form of the array, with the forecasts that are there to choose from."""
    return probatio.Schema(
        {
            probatio.Optional("array_power"): number_field(UnitOfPower.WATT),
            probatio.Optional(CONF_FORECAST): SelectSelector(
                SelectSelectorConfig(
                    options=list(forecasts), multiple=True, custom_value=True
                )
            ),
        }
    )


def boat_form(time_zones: Iterable[str]) -> probatio.Schema:
    """Return the form of name and place."""
    return probatio.Schema(
        {
            probatio.Required(CONF_NAME): TextSelector(),
            probatio.Required(CONF_LOCATION): LocationSelector(
                LocationSelectorConfig(radius=False)
            ),
            probatio.Required(CONF_TIME_ZONE): SelectSelector(
                SelectSelectorConfig(
                    options=sorted(time_zones), mode=SelectSelectorMode.DROPDOWN
                )
            ),
        }
    )


def with_gaps(
    form: probatio.Schema, suggested: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Return what to suggest in a form, with nothing where something has to be filled in.

    The interface would fill in 0, or the first of a list, and that might be overlooked.
    """
    gaps = {str(key): "" for key in form.schema if isinstance(key, probatio.Required)}
    return gaps | {k: v for k, v in (suggested or {}).items() if v is not None}


def section_of(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Return a form's answers as a section of the boat file."""
    found = {key: value for key, value in answers.items() if key != CONF_DETAILS}
    found |= answers.get(CONF_DETAILS) or {}
    for key in SHARES:
        if found.get(key) is not None:
            found[key] = round(found[key] / 100.0, 6)
    return {
        key: value for key, value in found.items() if value not in (None, "", [], {})
    }


def answers_of(
    section_data: Mapping[str, Any], form: probatio.Schema
) -> dict[str, Any]:
    """Return a section as answers to suggest in its form."""
    found = dict(section_data)
    for key in SHARES:
        if found.get(key) is not None:
            found[key] = round(found[key] * 100.0, 4)
    for key in (*SEVERAL, CONF_FORECAST):
        if isinstance(found.get(key), str):
            found[key] = [found[key]]
    if CONF_DETAILS in form.schema:
        fields = form.schema[CONF_DETAILS].schema.schema
        found[CONF_DETAILS] = {
            key: found.pop(key) for key in map(str, fields) if key in found
        }
    return found


def form_errors(
    problems: Iterable[Problem], form: probatio.Schema
) -> tuple[dict[str, str], dict[str, str]]:
    """Return the error of the first problem, at its field, and its placeholders.

    A problem of something that the form does not ask for stands above the form.
    """
    problem = next(iter(problems), None)
    if problem is None:
        return {}, {"problem": ""}
    fields = {str(key) for key in form.schema}
    named = [step for step in problem.path if isinstance(step, str) and step in fields]
    field = named[-1] if named else "base"
    said = problem.phrase if named else problem.in_full
    return {field: problem.fault.value}, {"problem": english().say(said)}
