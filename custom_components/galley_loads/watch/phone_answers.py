"""Answers from phones: taken if whoever holds the phone may give them."""

from typing import Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import Context, Event, HomeAssistant, callback
from homeassistant.exceptions import Unauthorized

from ..boat.rights import RIGHTS
from ..core.cutting import Answer, Asker, CutFacts
from .circuit_cutting import CircuitCutting
from .notifications import EVENT_PHONE_ACTION, PhoneAnswer, phone_answer
from .watch_present import WatchPresent

_MOST_WAITING: Final = 8


class PhoneAnswers:
    """Takes the answers to one boat's questions."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        circuits: CircuitCutting,
        present: WatchPresent,
    ) -> None:
        """Wait for nothing yet."""
        self._hass = hass
        self._entry = entry
        self._circuits = circuits
        self._present = present
        self._waiting: list[tuple[PhoneAnswer, Context]] = []

    @callback
    def async_start(self) -> None:
        """Listen to phones as long as the boat is loaded."""
        self._entry.async_on_unload(
            self._hass.bus.async_listen(EVENT_PHONE_ACTION, self._async_pressed)
        )

    @callback
    def async_give(self, moment: CutFacts) -> None:
        """Give the circuits the answers that have waited for the present."""
        waiting, self._waiting = self._waiting, []
        for pressed, context in waiting:
            self._circuits.async_answer(pressed.token, pressed.answer, moment, context)

    @callback
    def _async_pressed(self, event: Event) -> None:
        pressed = phone_answer(self._entry.entry_id, event.data)
        if pressed is not None:
            self._entry.async_create_task(
                self._hass,
                self._async_take(pressed, event.context),
                f"{self._entry.title} phone answer",
            )

    async def _async_take(self, pressed: PhoneAnswer, context: Context) -> None:
        """Take an answer, if whoever holds the phone may give it.

        A question that somebody without the right answers stays open for the others.
        """
        circuit = self._circuits.rules.asked_about(pressed.token)
        if circuit is not None:
            is_cut = pressed.answer is Answer.CUT
            action = "cut_now" if is_cut else "keep_circuit"
            try:
                await self._circuits.async_demand(RIGHTS[action], circuit, context)
            except Unauthorized:
                if is_cut:
                    self._circuits.async_refuse(circuit, Asker.ANSWER)
                return
        if len(self._waiting) < _MOST_WAITING:
            # Right after a start nothing is known yet; the answer waits for that.
            self._waiting.append((pressed, context))
            self._present.async_look_again()
