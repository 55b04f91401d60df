"""Actions about circuits and timers: keep, cut, look into the log, set a timer."""

from datetime import datetime, timedelta
from typing import Any, Final

from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv, service
from homeassistant.util import dt as dt_util
from homeassistant.util.json import JsonValueType
import probatio

from ..const import DOMAIN
from ..core.phrase import PhrasedError
from ..language.speech import english
from ..runtime import GalleyConfigEntry
from ..watch.circuit_cutting import CircuitCutting
from .cut_errors import raise_if_refused
from .registration import async_register_action

ATTR_APPLIANCE: Final = "appliance"
ATTR_CIRCUIT: Final = "circuit"
ATTR_DURATION: Final = "duration"
ATTR_MINUTES: Final = "minutes"
ATTR_UNTIL: Final = "until"

_BOAT: Final[dict[Any, Any]] = {probatio.Optional(ATTR_CONFIG_ENTRY_ID): cv.string}
_CIRCUIT: Final[dict[Any, Any]] = {**_BOAT, probatio.Required(ATTR_CIRCUIT): cv.string}
_APPLIANCE: Final[dict[Any, Any]] = {
    **_BOAT,
    probatio.Required(ATTR_APPLIANCE): cv.string,
}

KEEP_SCHEMA: Final = probatio.Schema(
    {
        **_CIRCUIT,
        probatio.Exclusive(ATTR_UNTIL, "end"): cv.time,
        probatio.Exclusive(ATTR_DURATION, "end"): cv.positive_time_period,
    }
)
CIRCUIT_SCHEMA: Final = probatio.Schema(_CIRCUIT)
BOAT_SCHEMA: Final = probatio.Schema(_BOAT)
TIMER_SCHEMA: Final = probatio.Schema(
    {**_APPLIANCE, probatio.Required(ATTR_MINUTES): probatio.Coerce(float)}
)
APPLIANCE_SCHEMA: Final = probatio.Schema(_APPLIANCE)


@callback
def async_setup_cut_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    register = async_register_action
    register(hass, "keep_circuit", _async_keep, KEEP_SCHEMA)
    register(hass, "cut_now", _async_cut_now, CIRCUIT_SCHEMA)
    register(hass, "set_timer", _async_set_timer, TIMER_SCHEMA)
    register(hass, "cancel_timer", _async_cancel_timer, APPLIANCE_SCHEMA)
    register(hass, "get_cut_log", _async_cut_log, BOAT_SCHEMA, SupportsResponse.ONLY)


def _entry(call: ServiceCall) -> GalleyConfigEntry:
    return service.async_get_config_entry(
        call.hass, DOMAIN, call.data.get(ATTR_CONFIG_ENTRY_ID)
    )


def _circuit_of(call: ServiceCall) -> tuple[GalleyConfigEntry, CircuitCutting, str]:
    """Return the boat, its circuits, and the circuit that is meant.

    Raises:
        ServiceValidationError: the boat has no such circuit.
    """
    entry = _entry(call)
    circuits = entry.runtime_data.circuits
    wanted = call.data[ATTR_CIRCUIT].strip().casefold()
    for name in circuits.names.values():
        if name.casefold() == wanted:
            return entry, circuits, name
    raise ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key="circuit_unknown",
        translation_placeholders={
            "circuit": call.data[ATTR_CIRCUIT],
            "allowed": ", ".join(circuits.names.values()) or "-",
        },
    )


async def _async_keep(call: ServiceCall) -> None:
    entry, circuits, circuit = _circuit_of(call)
    now = dt_util.now(entry.runtime_data.coordinator.boat.time_zone)
    if (clock := call.data.get(ATTR_UNTIL)) is not None:
        until = datetime.combine(now.date(), clock, now.tzinfo)
        if until <= now:
            until += timedelta(days=1)
        until_s = until.timestamp()
    else:
        # In seconds: what is much too long is no date any more.
        duration: timedelta = call.data.get(ATTR_DURATION, timedelta(hours=1))
        until_s = now.timestamp() + duration.total_seconds()
    try:
        circuits.async_keep(circuit, until_s)
    except ValueError as err:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="keep_out_of_range",
            translation_placeholders={"circuit": circuit},
        ) from err


async def _async_cut_now(call: ServiceCall) -> None:
    _, circuits, circuit = _circuit_of(call)
    raise_if_refused(circuit, await circuits.async_cut_for(call.context, circuit))


def _appliance(call: ServiceCall, watch_entry: GalleyConfigEntry) -> str:
    """Return the appliance that is meant.

    Raises:
        ServiceValidationError: the boat has no such appliance.
    """
    names = [a.name for a in watch_entry.runtime_data.coordinator.boat.appliances]
    wanted = call.data[ATTR_APPLIANCE].strip().casefold()
    for name in names:
        if name.casefold() == wanted:
            return name
    raise ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key="appliance_unknown",
        translation_placeholders={
            "appliance": call.data[ATTR_APPLIANCE],
            "allowed": ", ".join(names) or "-",
        },
    )


async def _async_set_timer(call: ServiceCall) -> None:
    entry = _entry(call)
    appliance = _appliance(call, entry)
    try:
        entry.runtime_data.timers.async_set(appliance, call.data[ATTR_MINUTES])
    except PhrasedError as err:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="timer_impossible",
            translation_placeholders={"problem": english().say(err.phrase)},
        ) from err


async def _async_cancel_timer(call: ServiceCall) -> None:
    entry = _entry(call)
    appliance = _appliance(call, entry)
    if not entry.runtime_data.timers.async_cancel(appliance):
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="timer_none",
            translation_placeholders={"appliance": appliance},
        )


async def _async_cut_log(call: ServiceCall) -> ServiceResponse:
    entries: list[JsonValueType] = [
        {
            "time": dt_util.utc_from_timestamp(line.at_s).isoformat(),
            "circuit": line.circuit,
            "what": line.what,
            "why": line.why,
        }
        for line in _entry(call).runtime_data.circuits.log
    ]
    return {"entries": entries}
