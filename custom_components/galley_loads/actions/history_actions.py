"""Actions on the boat as a whole: read the past again, and hand out the boat file."""

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..core.boat.boat_file import boat_to_text
from .action_input import entry_of, schema
from .registration import async_register_action


@callback
def async_setup_history_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    for name, handler, response in (
        ("backfill", _backfill, SupportsResponse.NONE),
        ("stop_backfill", _stop_backfill, SupportsResponse.NONE),
        ("export_boat", _export_boat, SupportsResponse.ONLY),
    ):
        async_register_action(hass, name, handler, schema(), response)


async def _backfill(call: ServiceCall) -> None:
    """Read the recorder's past, or go on where it was stopped."""
    entry = entry_of(call.hass, call)
    if not await entry.runtime_data.backfill.async_request():
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="backfill_running",
            translation_placeholders={"boat": entry.title},
        )


async def _stop_backfill(call: ServiceCall) -> None:
    """Interrupt the reading of the past."""
    entry = entry_of(call.hass, call)
    if not entry.runtime_data.backfill.running:
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="backfill_not_running",
            translation_placeholders={"boat": entry.title},
        )
    await entry.runtime_data.backfill.async_stop()


async def _export_boat(call: ServiceCall) -> ServiceResponse:
    """Return the boat as the text of a boat file."""
    entry = entry_of(call.hass, call)
    boat = entry.runtime_data.coordinator.boat
    return {"boat_file": await call.hass.async_add_executor_job(boat_to_text, boat)}
