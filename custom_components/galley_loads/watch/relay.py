"""The only door to a relay, and it opens circuits only.

Whatever the rest of the integration decides, this is the one function that calls for a
relay, and the action that it calls for is a constant.
"""

import asyncio
import logging
from typing import Final

from homeassistant.const import ATTR_ENTITY_ID, SERVICE_TURN_OFF
from homeassistant.core import DOMAIN as HOMEASSISTANT_DOMAIN, Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, Unauthorized

_LOGGER = logging.getLogger(__name__)

_TIMEOUT_S: Final = 10.0


async def async_open_relay(
    hass: HomeAssistant, entity_id: str, context: Context | None = None
) -> bool:
    """Order a relay to open; return whether the order was taken.

    Whether the circuit is dead then is for the readings to say.

    Raises:
        Unauthorized: the platform does not let that person do it: the relay got no
            order, and nothing is wrong with it.
    """
    try:
        async with asyncio.timeout(_TIMEOUT_S):
            await hass.services.async_call(
                HOMEASSISTANT_DOMAIN,
                SERVICE_TURN_OFF,
                {ATTR_ENTITY_ID: entity_id},
                blocking=True,
                context=context,
            )
    except Unauthorized:
        raise
    except (HomeAssistantError, TimeoutError) as err:
        _LOGGER.warning("%s could not be ordered to open: %s", entity_id, err)
        return False
    return True
