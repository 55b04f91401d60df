"""Who may do what with a boat: one table, and the platform's own permissions behind it.

Nothing here is a right of our own. Whether somebody may see or control an entity, and who
is an administrator, the platform knows; the table only says which of it an action needs.
Without a user (an automation, a script that runs by itself) everything is allowed, as
everywhere on the platform.
"""

from collections.abc import Iterable
from enum import StrEnum
from typing import Any, Final

from homeassistant.auth.models import User
from homeassistant.auth.permissions.const import POLICY_CONTROL, POLICY_READ
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import Context, HomeAssistant, callback
from homeassistant.exceptions import Unauthorized, UnknownUser
from homeassistant.helpers import entity_registry as er

from ..const import CONF_RELAY, SUBENTRY_CIRCUIT
from .boat_entry import parts_of


class Right(StrEnum):
    """What somebody has to be allowed; an administrator is allowed all of it.

    `READ` and `USE` are about the entities of the boat, those that are disabled left out:
    seeing and controlling every one of them. `SWITCH` is control of the circuit's relay,
    or `USE` where there is none.
    """

    READ = "read"
    USE = "use"
    SWITCH = "switch"
    ADMINISTER = "administer"


RIGHTS: Final[dict[str, tuple[Right, ...]]] = {
    "advise": (Right.READ,),
    "plan_day": (Right.READ,),
    "what_if": (Right.READ,),
    "list_meals": (Right.READ,),
    "sum_meals": (Right.READ,),
    "export_meals": (Right.READ,),
    "get_cut_log": (Right.READ,),
    "label_meal": (Right.USE,),
    "split_meal": (Right.USE,),
    "join_meals": (Right.USE,),
    "delete_meal": (Right.USE,),
    "set_timer": (Right.USE,),
    "cancel_timer": (Right.USE,),
    "keep_circuit": (Right.USE, Right.SWITCH),
    "cut_now": (Right.SWITCH,),
    "start_learning": (Right.ADMINISTER,),
    "stop_learning": (Right.ADMINISTER,),
    "forget_learned": (Right.ADMINISTER,),
    "backfill": (Right.ADMINISTER,),
    "stop_backfill": (Right.ADMINISTER,),
    "export_boat": (Right.ADMINISTER,),
}
"""What each action needs: any one of these."""


async def async_demand(
    hass: HomeAssistant,
    context: Context | None,
    rights: Iterable[Right],
    entry: ConfigEntry | None = None,
    relay: str | None = None,
) -> None:
    """Let whoever stands behind a context pass who has one of these rights.

    Raises:
        Unauthorized: that person has none of them.
        UnknownUser: the platform does not know that person any more.
    """
    if context is None or context.user_id is None:
        return
    user = await hass.auth.async_get_user(context.user_id)
    if user is None:
        raise UnknownUser(context=context)
    rights = tuple(rights)
    if not any(has_right(hass, user, right, entry, relay) for right in rights):
        raise Unauthorized(
            context=context,
            entity_id=relay if rights == (Right.SWITCH,) else None,
            config_entry_id=None if entry is None else entry.entry_id,
            permission=POLICY_READ if rights == (Right.READ,) else POLICY_CONTROL,
        )


@callback
def has_right(
    hass: HomeAssistant,
    user: User,
    right: Right,
    entry: ConfigEntry | None = None,
    relay: str | None = None,
) -> bool:
    """Return whether a user has a right on a boat, on a circuit with that relay."""
    if user.is_admin:
        return True
    if right is Right.ADMINISTER or entry is None:
        return False
    if right is Right.SWITCH and relay is not None:
        return user.permissions.check_entity(relay, POLICY_CONTROL)
    policy = POLICY_READ if right is Right.READ else POLICY_CONTROL
    if user.permissions.access_all_entities(policy):
        return True
    own = er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)
    enabled = [one.entity_id for one in own if one.disabled_by is None]
    return bool(enabled) and all(
        user.permissions.check_entity(entity_id, policy) for entity_id in enabled
    )


@callback
def relay_named(entry: ConfigEntry, circuit: Any) -> str | None:
    """Return the relay of the circuit that somebody named, None if there is none."""
    wanted = circuit.strip().casefold() if isinstance(circuit, str) else None
    for part in parts_of(entry, SUBENTRY_CIRCUIT):
        if part.name.casefold() == wanted:
            relay: str | None = part.data.get(CONF_RELAY)
            return relay
    return None
