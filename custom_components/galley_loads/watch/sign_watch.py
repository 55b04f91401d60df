"""Sensors that are read the wrong way round, reported by repairs that can turn them.

What speaks for it is found in `core/signs`. A notice goes by itself once the readings make
sense again.
"""

from datetime import timedelta
from typing import Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir
from homeassistant.helpers.event import async_track_time_interval

from ..const import DOMAIN
from ..coordinator import GalleyCoordinator
from ..core.metering.wrong_sign import WrongSign
from ..core.phrase import phrase
from ..language.speech import english
from .notices import async_take_back

ISSUE_SIGN: Final = "wrong_sign"

LOOK: Final = timedelta(minutes=15)


class SignWatch:
    """Reports the wrong signs of one boat."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing reported."""
        self._hass = hass
        self._coordinator = coordinator
        self._entry = coordinator.config_entry
        self._stop_waiting: CALLBACK_TYPE | None = None

    @callback
    def async_start(self) -> CALLBACK_TYPE:
        """Look once the past is known, then now and then until the returned call."""
        stop_looking = async_track_time_interval(
            self._hass, self.async_look, LOOK, name=f"{self._entry.title} signs"
        )
        self._stop_waiting = self._coordinator.async_add_listener(
            self._async_first_look
        )

        @callback
        def stop() -> None:
            stop_looking()
            self._end_waiting()

        return stop

    @callback
    def _end_waiting(self) -> None:
        if self._stop_waiting is not None:
            self._stop_waiting()
            self._stop_waiting = None

    @callback
    def _async_first_look(self) -> None:
        """Look as soon as it can be detected: who has just set the boat up is still there."""
        if not self._is_known:
            return
        self._end_waiting()
        self._entry.async_create_task(self._hass, self.async_look())

    @property
    def _is_known(self) -> bool:
        """Whether the engine has lived through the past."""
        coordinator = self._coordinator
        return not (coordinator.catching_up or coordinator.provisional)

    async def async_look(self, _: object = None) -> None:
        """Report what is wrong now; take back what is not."""
        if not self._is_known:
            return
        coordinator = self._coordinator
        found = await coordinator.async_with_engine(lambda engine: engine.wrong_signs())
        reported = {issue_id(self._entry.entry_id, one): one for one in found}
        async_forget_signs(self._hass, self._entry.entry_id, frozenset(reported))
        for name, sign in reported.items():
            self._raise(name, sign)

    def _raise(self, name: str, sign: WrongSign) -> None:
        speech = english()
        sensors = speech.say(phrase("sign.sensors", sensors=sign.called))
        ir.async_create_issue(
            self._hass,
            DOMAIN,
            name,
            is_fixable=True,
            severity=ir.IssueSeverity.WARNING,
            translation_key=f"{ISSUE_SIGN}_{sign.turned}",
            translation_placeholders={
                "boat": self._entry.title,
                "sensors": sensors,
            },
            data={
                "entry_id": self._entry.entry_id,
                "turned": sign.turned.value,
                "entity_id": sign.entity_ids[0],
                "sensors": sensors,
                "evidence": "\n".join(speech.say_all(sign.evidence)),
            },
        )


def issue_id(entry_id: str, sign: WrongSign) -> str:
    """Return the id of the notice about some sensors."""
    return "_".join((ISSUE_SIGN, entry_id, sign.turned, *sign.entity_ids))


@callback
def async_forget_signs(
    hass: HomeAssistant, entry_id: str, kept: frozenset[str] = frozenset()
) -> None:
    """Take back the notices about a boat, but for those to be kept."""
    async_take_back(hass, f"{ISSUE_SIGN}_{entry_id}_", kept)
