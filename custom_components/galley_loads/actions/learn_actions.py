"""Actions of learn mode: begin, end, and forget what was learnt."""

from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..runtime import GalleyConfigEntry
from .action_input import bad_value, entry_of, schema, text
from .registration import async_register_action

ATTR_APPLIANCE = "appliance"


@callback
def async_setup_learn_actions(hass: HomeAssistant) -> None:
    """Register the actions."""
    appliance = schema(required=[ATTR_APPLIANCE])
    async_register_action(hass, "start_learning", _start, appliance)
    async_register_action(hass, "forget_learned", _forget, appliance)
    async_register_action(hass, "stop_learning", _stop, schema())


def _named(call: ServiceCall) -> tuple[GalleyConfigEntry, str]:
    """Return the boat and the appliance that is meant.

    Raises:
        ServiceValidationError: the boat has no such appliance.
    """
    entry = entry_of(call.hass, call)
    wanted = (text(call, ATTR_APPLIANCE) or "").casefold()
    names = [a.name for a in entry.runtime_data.coordinator.boat.appliances]
    for name in names:
        if name.casefold() == wanted:
            return entry, name
    allowed = ", ".join(names) or "the boat has none yet"
    raise bad_value(ATTR_APPLIANCE, call.data[ATTR_APPLIANCE], allowed)


async def _start(call: ServiceCall) -> None:
    """Learn an appliance that is switched on next."""
    entry, name = _named(call)
    entry.runtime_data.learn.async_begin(name)


async def _stop(call: ServiceCall) -> None:
    """End learn mode without a result."""
    entry = entry_of(call.hass, call)
    if not entry.runtime_data.learn.async_cancel():
        raise ServiceValidationError(
            translation_domain=DOMAIN,
            translation_key="learn_not_on",
            translation_placeholders={"boat": entry.title},
        )


async def _forget(call: ServiceCall) -> None:
    """Go back to an appliance's rating."""
    entry, name = _named(call)
    await entry.runtime_data.learn.async_forget(name)
