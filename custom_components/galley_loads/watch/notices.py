"""Notices under Repairs that go by themselves once what they are about is over."""

from collections.abc import Container

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..const import DOMAIN


@callback
def async_take_back(hass: HomeAssistant, start: str, kept: Container[str] = ()) -> None:
    """Take back the notices whose id begins so, but for those to be kept."""
    for domain, known in list(ir.async_get(hass).issues):
        if domain == DOMAIN and known.startswith(start) and known not in kept:
            ir.async_delete_issue(hass, domain, known)
