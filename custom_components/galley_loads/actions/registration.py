"""Registering an action: whoever calls it is asked for the right to do so first."""

from collections.abc import Awaitable, Callable

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
import probatio

from ..boat.rights import RIGHTS, Right, async_demand, relay_named
from ..const import CONF_CIRCUIT, DOMAIN
from .action_input import entry_of


@callback
def async_register_action(
    hass: HomeAssistant,
    name: str,
    handler: Callable[[ServiceCall], Awaitable[ServiceResponse]]
    | Callable[[ServiceCall], Awaitable[None]],
    schema: probatio.Schema,
    supports_response: SupportsResponse = SupportsResponse.NONE,
) -> None:
    """Register an action of the table of rights."""
    rights = RIGHTS[name]

    async def guarded(call: ServiceCall) -> ServiceResponse:
        if rights == (Right.ADMINISTER,):
            await async_demand(hass, call.context, rights)
        else:
            entry = entry_of(hass, call)
            relay = relay_named(entry, call.data.get(CONF_CIRCUIT))
            # Where a relay would be opened, the watch asks and writes a refusal down.
            if relay is None or rights != (Right.SWITCH,):
                await async_demand(hass, call.context, rights, entry, relay)
        return await handler(call)

    hass.services.async_register(
        DOMAIN, name, guarded, schema=schema, supports_response=supports_response
    )
