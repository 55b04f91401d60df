"""Learn mode: the crew runs one appliance alone, and its draw is taken for good.

One appliance at a time. Nothing is switched: somebody turns the appliance on and off by
hand while this listens.
"""

from enum import StrEnum
import time
from typing import Final

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..coordinator import GalleyCoordinator
from ..core.inference.learning.signature import LearnProblem, LearnSession, Signature
from ..language.speech import english
from ..state.listeners import Listeners

WAIT_S: Final = 1800.0
"""So long the appliance may take to be switched on."""


class LearnState(StrEnum):
    """What learn mode does about an appliance."""

    IDLE = "idle"
    LEARNING = "learning"
    LEARNED = "learned"
    FAILED = "failed"


class LearnMode:
    """Learn mode of one boat."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Start with nothing to learn."""
        self._hass = hass
        self._coordinator = coordinator
        self._session: LearnSession | None = None
        self._until_s = 0.0
        self._states: dict[str, LearnState] = {}
        self._messages: dict[str, str] = {}
        self._changes = Listeners[[]]()

    @callback
    def async_start(self) -> None:
        """Listen as long as the boat is loaded."""
        self._coordinator.config_entry.async_on_unload(
            self._coordinator.async_add_listener(self._async_published)
        )

    @callback
    def async_listen(self, listener: CALLBACK_TYPE) -> CALLBACK_TYPE:
        """Call `listener` when something changed, until unsubscribed."""
        return self._changes.async_add(listener)

    def state(self, appliance: str) -> LearnState:
        """Return what learn mode does about an appliance."""
        return self._states.get(appliance, LearnState.IDLE)

    def message(self, appliance: str) -> str | None:
        """Return what came of it, in a sentence."""
        return self._messages.get(appliance)

    # What people want

    @callback
    def async_begin(self, name: str) -> None:
        """Learn an appliance that is off now and is switched on next.

        Raises:
            ServiceValidationError: it has its own meter, another one is being learnt,
                something runs, or the load is not measured.
        """
        appliance = self._coordinator.boat.appliance(name)
        if appliance.power_sensor is not None:
            raise _refusal("learn_own_meter", name)
        if self._session is not None:
            raise _refusal("learn_busy", self._session.appliance)
        live = self._coordinator.data
        if live is None or live.load_w is None or self._coordinator.catching_up:
            raise _refusal("learn_not_measured", name)
        for now in live.appliances:
            if now.perhaps_running:
                raise _refusal("learn_something_runs", now.name)
        self._session = LearnSession(name, appliance.rated_power_w)
        self._until_s = time.time() + WAIT_S
        self._set(name, LearnState.LEARNING, None)

    @callback
    def async_cancel(self) -> bool:
        """End learn mode; return whether it was on."""
        if self._session is None:
            return False
        self._end(LearnState.IDLE, None)
        return True

    async def async_forget(self, name: str) -> None:
        """Forget what was learnt of an appliance: its rating counts again.

        Raises:
            ServiceValidationError: it has its own meter, so nothing is learnt of it.
        """
        try:
            await self._coordinator.async_with_engine(
                lambda engine: engine.inference.forget(name)
            )
        except KeyError as err:
            raise _refusal("learn_own_meter", name) from err
        self._set(name, LearnState.IDLE, None)

    # What happens

    @callback
    def _async_published(self) -> None:
        if self._coordinator.catching_up:
            return
        session, sample = self._session, self._coordinator.known.sample
        if session is None or sample is None:
            return
        try:
            session.observe(sample)
            given_up = time.time() > self._until_s and not session.has_begun
            if not (session.is_over or given_up):
                return
            signature = session.finish()
        except LearnProblem as problem:
            self._end(LearnState.FAILED, english().say(problem.phrase))
            return
        self._session = None
        self._coordinator.config_entry.async_create_task(
            self._hass, self._async_remember(signature), "remember a signature"
        )

    async def _async_remember(self, signature: Signature) -> None:
        await self._coordinator.async_with_engine(
            lambda engine: engine.inference.remember(signature)
        )
        minutes = signature.duration_s / 60.0
        self._set(
            signature.appliance,
            LearnState.LEARNED,
            f"{signature.full_power_w:,.0f} W at full power;"
            f" {signature.energy_wh:.0f} Wh in {minutes:.1f} min.",
        )

    @callback
    def _end(self, state: LearnState, message: str | None) -> None:
        if self._session is not None:
            name, self._session = self._session.appliance, None
            self._set(name, state, message)

    @callback
    def _set(self, name: str, state: LearnState, message: str | None) -> None:
        self._states[name] = state
        self._messages.pop(name, None)
        if message is not None:
            self._messages[name] = message
        self._changes.async_notify()


def _refusal(key: str, appliance: str) -> ServiceValidationError:
    return ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key=key,
        translation_placeholders={"appliance": appliance},
    )
