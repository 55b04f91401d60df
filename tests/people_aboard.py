"""Four kinds of people who are logged in, and what they do in their own name."""

from enum import StrEnum
from typing import Any

from homeassistant.auth.const import GROUP_ID_ADMIN, GROUP_ID_READ_ONLY, GROUP_ID_USER
from homeassistant.auth.models import Credentials
from homeassistant.auth.permissions import PermissionLookup
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
from pytest_homeassistant_custom_component.common import MockUser


class Who(StrEnum):
    """Kinds of people; the last may control the relay and nothing else."""

    ADMINISTRATOR = "administrator"
    USER = "user"
    READ_ONLY = "read_only"
    RELAY_ALONE = "relay_alone"


GROUPS = {
    Who.ADMINISTRATOR: GROUP_ID_ADMIN,
    Who.USER: GROUP_ID_USER,
    Who.READ_ONLY: GROUP_ID_READ_ONLY,
}


async def person(hass: HomeAssistant, who: Who, relay: str) -> MockUser:
    """Return somebody of a kind, known to the platform."""
    if who is Who.RELAY_ALONE:
        return with_policy(hass, {"entities": {"entity_ids": {relay: True}}})
    group = await hass.auth.async_get_group(GROUPS[who])
    assert group is not None
    return MockUser(groups=[group]).add_to_hass(hass)


def with_policy(hass: HomeAssistant, policy: dict[str, Any]) -> MockUser:
    """Return somebody with permissions as a group could have them."""
    user = MockUser()
    user.perm_lookup = PermissionLookup(er.async_get(hass), dr.async_get(hass))
    user.mock_policy(policy)
    return user.add_to_hass(hass)


async def token_of(hass: HomeAssistant, user: MockUser) -> str:
    """Log somebody in."""
    credential = Credentials(
        auth_provider_type="homeassistant",
        auth_provider_id=None,
        data={"username": user.id},
        is_new=False,
    )
    user.credentials.append(credential)
    refresh_token = await hass.auth.async_create_refresh_token(
        user, "https://example.org/app", credential=credential
    )
    return hass.auth.async_create_access_token(refresh_token)


async def act_as(
    hass: HomeAssistant, user: MockUser, domain: str, action: str, **data: Any
) -> None:
    """Call an action in somebody's name, as the interface does."""
    await hass.services.async_call(
        domain,
        action,
        data,
        blocking=True,
        context=Context(user_id=user.id),
        return_response=hass.services.supports_response(domain, action).value == "only",
    )
    await hass.async_block_till_done(wait_background_tasks=True)
