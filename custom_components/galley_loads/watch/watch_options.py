"""The options about alerts and quiet hours: their form and what they mean."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from typing import Any, Final

from homeassistant.components.notify import DOMAIN as NOTIFY_DOMAIN
from homeassistant.core import HomeAssistant, callback
from homeassistant.data_entry_flow import section
from homeassistant.helpers.selector import (
    BooleanSelector,
    EntitySelector,
    EntitySelectorConfig,
    EntityWithDeviceFilterSelectorConfig,
    SelectOptionDict,
    SelectSelector,
    SelectSelectorConfig,
    SelectSelectorMode,
    TimeSelector,
)
import probatio

from ..core.boat.quiet_hours import QuietHours
from ..core.occasions.message_filter import MESSAGE_KINDS
from ..core.occasions.occurrence import OccurrenceKind

CONF_ALERTS: Final = "alerts"
CONF_CUT_IN_QUIET_HOURS: Final = "cut_in_quiet_hours"
CONF_KINDS: Final = "kinds"
CONF_NOTIFY_ENTITIES: Final = "notify_entities"
CONF_PHONES: Final = "phones"
CONF_QUIET_END: Final = "quiet_end"
CONF_QUIET_START: Final = "quiet_start"

PHONE_PREFIX: Final = "mobile_app_"

DEFAULT_ALERTS: Final[dict[str, Any]] = {
    CONF_NOTIFY_ENTITIES: [],
    CONF_PHONES: [],
    CONF_KINDS: [kind.value for kind in MESSAGE_KINDS],
    CONF_QUIET_START: "22:00:00",
    CONF_QUIET_END: "07:00:00",
    CONF_CUT_IN_QUIET_HOURS: True,
}


@dataclass(frozen=True, slots=True)
class WatchOptions:
    """Who is sent what, and when not.

    `phones` are names of the platform's notify actions of phones, without their domain.
    """

    notify_entities: tuple[str, ...]
    phones: tuple[str, ...]
    kinds: frozenset[OccurrenceKind]
    quiet_hours: QuietHours | None
    cut_in_quiet_hours: bool

    @classmethod
    def of(cls, options: Mapping[str, Any]) -> WatchOptions:
        """Return what an entry's options say; what is missing has its default."""
        chosen = {**DEFAULT_ALERTS, **options.get(CONF_ALERTS, {})}
        known = {kind.value for kind in MESSAGE_KINDS}
        return cls(
            tuple(chosen[CONF_NOTIFY_ENTITIES]),
            tuple(chosen[CONF_PHONES]),
            frozenset(
                OccurrenceKind(kind) for kind in chosen[CONF_KINDS] if kind in known
            ),
            _quiet_hours(chosen[CONF_QUIET_START], chosen[CONF_QUIET_END]),
            bool(chosen[CONF_CUT_IN_QUIET_HOURS]),
        )


def _quiet_hours(start: str | None, end: str | None) -> QuietHours | None:
    if not start or not end or start == end:
        return None
    return QuietHours(time.fromisoformat(start), time.fromisoformat(end))


def has_half_quiet_hours(answers: Mapping[str, Any]) -> bool:
    """Whether the section's answers have one time of the quiet hours without the other."""
    return bool(answers.get(CONF_QUIET_START)) != bool(answers.get(CONF_QUIET_END))


def phone_name(action: str) -> str:
    """Return how a phone's notify action is shown: `Mate s phone`."""
    return action.removeprefix(PHONE_PREFIX).replace("_", " ").capitalize()


@callback
def alerts_section(hass: HomeAssistant, chosen: Mapping[str, Any]) -> section:
    """Return the section of the options form; `chosen` are the present options."""
    phones = {
        service
        for service in hass.services.async_services_for_domain(NOTIFY_DOMAIN)
        if service.startswith(PHONE_PREFIX)
    }
    # A phone that is away at the moment stays chosen.
    phones |= set(chosen.get(CONF_PHONES, ()))
    return section(
        probatio.Schema(
            {
                probatio.Optional(CONF_NOTIFY_ENTITIES): EntitySelector(
                    EntitySelectorConfig(
                        filter=[
                            EntityWithDeviceFilterSelectorConfig(domain=NOTIFY_DOMAIN)
                        ],
                        multiple=True,
                    )
                ),
                probatio.Optional(CONF_PHONES): SelectSelector(
                    SelectSelectorConfig(
                        options=[
                            SelectOptionDict(value=phone, label=phone_name(phone))
                            for phone in sorted(phones)
                        ],
                        multiple=True,
                        mode=SelectSelectorMode.DROPDOWN,
                    )
                ),
                probatio.Optional(CONF_KINDS): SelectSelector(
                    SelectSelectorConfig(
                        options=[kind.value for kind in MESSAGE_KINDS],
                        multiple=True,
                        mode=SelectSelectorMode.LIST,
                        translation_key="alert_kind",
                    )
                ),
                probatio.Optional(CONF_QUIET_START): TimeSelector(),
                probatio.Optional(CONF_QUIET_END): TimeSelector(),
                probatio.Optional(CONF_CUT_IN_QUIET_HOURS): BooleanSelector(),
            }
        ),
        {"collapsed": False},
    )


def present_alerts(options: Mapping[str, Any]) -> dict[str, Any]:
    """Return the present choice, as the form shows it."""
    return {**DEFAULT_ALERTS, **options.get(CONF_ALERTS, {})}


def alerts_from_form(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Return what to keep of the section's answers; a field left empty means none."""
    return {
        CONF_NOTIFY_ENTITIES: answers.get(CONF_NOTIFY_ENTITIES, []),
        CONF_PHONES: answers.get(CONF_PHONES, []),
        CONF_KINDS: answers.get(CONF_KINDS, []),
        CONF_QUIET_START: answers.get(CONF_QUIET_START),
        CONF_QUIET_END: answers.get(CONF_QUIET_END),
        CONF_CUT_IN_QUIET_HOURS: answers.get(CONF_CUT_IN_QUIET_HOURS, False),
    }
