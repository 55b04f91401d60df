"""Notices about our boats, and going through their fixes as the interface does."""

from typing import Any

from homeassistant.components.repairs import DOMAIN as REPAIRS_DOMAIN
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockUser
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.galley_loads.const import DOMAIN

from .at_home import fresh_token


def issues(issue_registry: ir.IssueRegistry) -> dict[str, ir.IssueEntry]:
    """Return the issues about our boats by their translation key."""
    return {
        str(issue.translation_key): issue
        for issue in issue_registry.issues.values()
        if issue.domain == DOMAIN
    }


class Fixer:
    """Somebody who is logged in and goes through fixes, however many hours pass."""

    def __init__(
        self, hass: HomeAssistant, client: ClientSessionGenerator, user: MockUser
    ) -> None:
        """Log this user in anew each time."""
        self._hass, self._client, self._user = hass, client, user

    async def fix(
        self, issue: ir.IssueEntry, *answers: dict[str, Any]
    ) -> dict[str, Any]:
        """Begin the fix of an issue, answer its forms, and return what comes of it."""
        assert await async_setup_component(self._hass, REPAIRS_DOMAIN, {})
        client = await self._client(fresh_token(self._hass, self._user))
        flows = "/api/repairs/issues/fix"
        asked: dict[str, Any] = {"handler": issue.domain, "issue_id": issue.issue_id}
        response = await client.post(flows, json=asked)
        assert response.status == 200, await response.text()
        result: dict[str, Any] = await response.json()
        for answer in answers:
            assert result["type"] == "form", result
            response = await client.post(f"{flows}/{result['flow_id']}", json=answer)
            assert response.status == 200, await response.text()
            result = await response.json()
        await self._hass.async_block_till_done(wait_background_tasks=True)
        return result
