"""Logbook: a line for each finished run and meal, for warnings and changed advice."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from homeassistant.components.logbook import (
    LOGBOOK_ENTRY_ENTITY_ID,
    LOGBOOK_ENTRY_ICON,
    LOGBOOK_ENTRY_MESSAGE,
    LOGBOOK_ENTRY_NAME,
    LazyEventPartialState,
)
from homeassistant.core import HomeAssistant, callback

from .const import DOMAIN, EVENT_MEAL_FINISHED, EVENT_OCCURRENCE, EVENT_RUN_FINISHED
from .core.occasions.occurrence import OccurrenceKind

type Describer = Callable[[LazyEventPartialState], dict[str, Any]]


@callback
def async_describe_events(
    hass: HomeAssistant,
    async_describe_event: Callable[[str, str, Describer], None],
) -> None:
    """Describe the events of the event bus."""
    async_describe_event(DOMAIN, EVENT_RUN_FINISHED, describe_run)
    async_describe_event(DOMAIN, EVENT_MEAL_FINISHED, describe_meal)
    async_describe_event(DOMAIN, EVENT_OCCURRENCE, describe_occurrence)


@callback
def describe_run(event: LazyEventPartialState) -> dict[str, Any]:
    """Return the line for a finished run."""
    data = event.data
    return {
        LOGBOOK_ENTRY_NAME: data["appliance"],
        LOGBOOK_ENTRY_MESSAGE: (
            f"ran for {_minutes(data)} and took {data['energy_wh']:.0f} Wh"
        ),
        LOGBOOK_ENTRY_ICON: "mdi:stove",
        LOGBOOK_ENTRY_ENTITY_ID: data.get("entity_id"),
    }


@callback
def describe_meal(event: LazyEventPartialState) -> dict[str, Any]:
    """Return the line for a finished meal."""
    data = event.data
    message = (
        f"finished {data['label']}: {data['energy_wh']:.0f} Wh, "
        f"{data['bank_ah']:.1f} Ah at the bank"
    )
    if data.get("solar_share") is not None:
        message += f", {100 * data['solar_share']:.0f} % from the sun"
    if data.get("expected_wh") is not None:
        message += f"; {data['expected_wh']:.0f} Wh were expected of {data['dish']}"
    return {
        LOGBOOK_ENTRY_NAME: data["boat"],
        LOGBOOK_ENTRY_MESSAGE: message,
        LOGBOOK_ENTRY_ICON: "mdi:silverware-fork-knife",
        LOGBOOK_ENTRY_ENTITY_ID: data.get("entity_id"),
    }


@callback
def describe_occurrence(event: LazyEventPartialState) -> dict[str, Any]:
    """Return the line for a warning or a change of advice."""
    data = event.data
    kind = OccurrenceKind(data["kind"])
    return {
        LOGBOOK_ENTRY_NAME: data["boat"],
        LOGBOOK_ENTRY_MESSAGE: _occurrence_message(kind, data),
        LOGBOOK_ENTRY_ICON: _NEWS_ICONS[kind],
        LOGBOOK_ENTRY_ENTITY_ID: data.get("entity_id"),
    }


def _occurrence_message(kind: OccurrenceKind, data: Mapping[str, Any]) -> str:
    match kind:
        case OccurrenceKind.ADVICE_CHANGED:
            return (
                f"advises to {_VERDICTS[data['verdict']]} with {data['subject']}, no"
                f" longer to {_VERDICTS[data['before']]}"
            )
        case OccurrenceKind.STANDBY_LEFT_ON:
            return (
                f"warned: {data['subject']} has been idle for"
                f" {data['idle_minutes']:.0f} minutes and draws"
                f" {data['standby_w']:.0f} W"
            )
        case OccurrenceKind.RESERVE_AT_RISK:
            return (
                "warned: what is cooking may take the bank to"
                f" {data['lowest_soc']:.0f} % before the morning"
            )
        case _:
            return f"warned: {data['subject']} is near its limit. {data['advice']}"


_VERDICTS: Final = {"cook_now": "cook now", "wait": "wait", "hold_off": "hold off"}

_NEWS_ICONS: Final = {
    OccurrenceKind.ADVICE_CHANGED: "mdi:lightbulb-on-outline",
    OccurrenceKind.STANDBY_LEFT_ON: "mdi:power-sleep",
    OccurrenceKind.RESERVE_AT_RISK: "mdi:battery-alert",
    OccurrenceKind.OVERLOAD_NEAR: "mdi:flash-alert",
}


def _minutes(data: Mapping[str, Any]) -> str:
    minutes = round((data["end_s"] - data["start_s"]) / 60)
    return "a minute" if minutes <= 1 else f"{minutes} minutes"
