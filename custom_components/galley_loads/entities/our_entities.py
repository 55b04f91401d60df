"""Finding this integration's own entities among those that an automation names."""

from collections.abc import Iterable

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er

from ..const import DOMAIN


def with_key(hass: HomeAssistant, entity_ids: Iterable[str], key: str) -> set[str]:
    """Return those of the entities that are ours and of the sort `key` names."""
    registry = er.async_get(hass)
    return {
        entity_id
        for entity_id in entity_ids
        if (known := registry.async_get(entity_id)) is not None
        and known.platform == DOMAIN
        and known.translation_key == key
    }
