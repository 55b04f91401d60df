"""Messages to the crew: notify entities, and phones with their buttons.

A phone gets a tag, so that a newer message takes the place of the older one and can be
taken back, and buttons where there is a question. A notify entity knows title and text
only.
"""

from collections.abc import Mapping
from dataclasses import dataclass
import logging
from typing import Any, Final
from zoneinfo import ZoneInfo

from homeassistant.components.notify import (
    ATTR_DATA,
    ATTR_MESSAGE,
    ATTR_TITLE,
    DOMAIN as NOTIFY_DOMAIN,
    SERVICE_SEND_MESSAGE,
)
from homeassistant.const import ATTR_ENTITY_ID
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from ..core.cutting import Answer
from ..core.occasions.message_filter import Clear, Message, Say
from ..language.alert_texts import words
from ..language.speech import english
from .watch_options import WatchOptions

_LOGGER = logging.getLogger(__name__)

EVENT_PHONE_ACTION: Final = "mobile_app_notification_action"
"""Fired by the platform's phone app when a button of a message is pressed."""

_ACTION_PREFIX: Final = "GALLEY_LOADS"
_CLEAR: Final = "clear_notification"
_BUTTONS: Final = {Answer.CUT: "Switch it off", Answer.KEEP: "Keep it an hour"}
_LONGEST_ACTION: Final = 200


@dataclass(frozen=True, slots=True)
class PhoneAnswer:
    """A pressed button: what was answered, and to which question."""

    answer: Answer
    token: str


def action_id(entry_id: str, answer: Answer, token: str) -> str:
    """Return the identifier of a button."""
    return f"{_ACTION_PREFIX}.{answer.name}.{entry_id}.{token}"


def phone_answer(entry_id: str, data: Mapping[str, Any]) -> PhoneAnswer | None:
    """Return the answer in a phone's event, None if it is none for this boat.

    The event comes from outside; nothing in it is believed but the token, and that only
    if it belongs to a question that is open.
    """
    action = data.get("action")
    if not isinstance(action, str) or len(action) > _LONGEST_ACTION:
        return None
    parts = action.split(".")
    if len(parts) != 4 or parts[0] != _ACTION_PREFIX or parts[2] != entry_id:
        return None
    if parts[1] not in Answer.__members__:
        return None
    return PhoneAnswer(Answer[parts[1]], parts[3])


class Notifier:
    """Sends the messages of one boat."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry_id: str,
        options: WatchOptions,
        time_zone: ZoneInfo,
    ) -> None:
        """Send to the receivers in the options; `time_zone` is the boat's."""
        self._hass = hass
        self._entry_id = entry_id
        self._options = options
        self._time_zone = time_zone
        self._failed: set[str] = set()

    async def async_send(self, messages: list[Message]) -> None:
        """Send messages one after the other; a receiver that fails is noted once."""
        for message in messages:
            for phone in self._options.phones:
                await self._async_call(phone, phone, self._for_phone(message))
            if isinstance(message, Say):
                title, text = words(message.occurrence, english(self._time_zone))
                for entity_id in self._options.notify_entities:
                    data = {
                        ATTR_ENTITY_ID: entity_id,
                        ATTR_TITLE: title,
                        ATTR_MESSAGE: text,
                    }
                    await self._async_call(entity_id, SERVICE_SEND_MESSAGE, data)

    def _tag(self, tag: str) -> str:
        return f"galley_loads.{self._entry_id}.{tag}"

    def _for_phone(self, message: Message) -> dict[str, Any]:
        """Return the data of a phone's notify action."""
        if isinstance(message, Clear):
            return {ATTR_MESSAGE: _CLEAR, ATTR_DATA: {"tag": self._tag(message.tag)}}
        data: dict[str, Any] = {"tag": self._tag(message.tag)}
        if message.token is not None:
            data["actions"] = [
                {
                    "action": action_id(self._entry_id, answer, message.token),
                    "title": title,
                }
                for answer, title in _BUTTONS.items()
            ]
        if message.urgent:
            data |= {
                "ttl": 0,
                "priority": "high",
                "push": {"interruption-level": "time-sensitive"},
            }
        title, text = words(message.occurrence, english(self._time_zone))
        return {
            ATTR_TITLE: title,
            ATTR_MESSAGE: text,
            ATTR_DATA: data,
        }

    async def _async_call(
        self, receiver: str, service: str, data: dict[str, Any]
    ) -> None:
        try:
            await self._hass.services.async_call(
                NOTIFY_DOMAIN, service, data, blocking=True
            )
        except HomeAssistantError as err:
            if receiver not in self._failed:
                self._failed.add(receiver)
                _LOGGER.warning("%s cannot be told: %s", receiver, err)
        else:
            self._failed.discard(receiver)
