"""The circuits of one boat: what the rules of cutting decide is carried out here.

The rules live in the core. A relay is ordered to open, a stuck contact becomes a repair,
and whoever listens hears every outcome. Nothing here can close a circuit.
"""

from collections.abc import Callable, Iterable
import time

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, Context, HomeAssistant, callback
from homeassistant.exceptions import Unauthorized

from ..boat.rights import RIGHTS, Right, async_demand
from ..core.boat.boat import Boat
from ..core.cutting import (
    Answer,
    Ask,
    Asker,
    Cut,
    CutFacts,
    LogEntry,
    Outcome,
    QuestionOver,
    Stuck,
)
from ..state.listeners import Listeners
from .relay import async_open_relay
from .stuck_relays import StuckRelays
from .watch_present import WatchPresent
from .watch_state import WatchState

type OutcomeListener = Callable[[Outcome], None]


class CircuitCutting:
    """Cuts what may be cut, on its own and for people."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        boat: Boat,
        present: WatchPresent,
        state: WatchState,
    ) -> None:
        """Go on from the rules' state."""
        self._hass = hass
        self._entry = entry
        self._boat = boat
        self._present = present
        self._state = state
        self._occurrences = state.reports.watch
        self._outcomes = Listeners[Outcome]()
        self.rules = state.rules
        self.names = state.circuit_names
        self._stuck = StuckRelays(hass, entry, self.names, self.rules)

    @callback
    def async_start(self) -> None:
        """Show the repairs of the relays that were stuck before."""
        self._stuck.async_refresh()

    @callback
    def async_listen_outcomes(self, listener: OutcomeListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that the rules of cutting say."""
        return self._outcomes.async_add(listener)

    @property
    def log(self) -> tuple[LogEntry, ...]:
        """The last cuts, refusals, questions and answers, oldest first."""
        return self.rules.log

    def has_relay(self, subentry_id: str) -> bool:
        """Return whether a circuit has a relay."""
        return self._relay(self.names[subentry_id]) is not None

    def obstacle(self, circuit: str) -> str | None:
        """Return what speaks against cutting a circuit now, "none" if nothing does.

        None means that nothing is known yet.
        """
        moment = self._present.moment()
        if moment is None:
            return None
        reason = self.rules.obstacle(circuit, moment)
        return "none" if reason is None else reason.value

    @callback
    def async_observe(self, moment: CutFacts) -> None:
        """Look at the present, and do what the rules say."""
        self._carry_out(self.rules.observe(moment))

    @callback
    def async_answer(
        self, token: str, answer: Answer, moment: CutFacts, context: Context
    ) -> None:
        """Take the answer to a question."""
        self._carry_out(self.rules.answer(token, answer, moment), context)

    async def async_demand(
        self, rights: Iterable[Right], circuit: str, context: Context | None
    ) -> None:
        """Demand that a person has the rights about a circuit.

        Raises:
            Unauthorized: it has not.
        """
        relay = self._relay(circuit)
        await async_demand(self._hass, context, rights, self._entry, relay)

    @callback
    def async_refuse(self, circuit: str, by: Asker) -> None:
        """Write down that somebody may not have a circuit cut."""
        self._carry_out(self.rules.refuse(circuit, time.time(), by))

    async def async_cut_for(
        self, context: Context | None, circuit: str
    ) -> list[Outcome]:
        """Cut a circuit for a person, who has to have the right to.

        Raises:
            KeyError: the boat has no circuit of that name.
            Unauthorized: that person may not control its relay.
        """
        try:
            await self.async_demand(RIGHTS["cut_now"], circuit, context)
        except Unauthorized:
            self.async_refuse(circuit, Asker.PERSON)
            raise
        return self.async_cut_now(circuit, context)

    @callback
    def async_cut_now(
        self, circuit: str, context: Context | None = None
    ) -> list[Outcome]:
        """Cut a circuit on request; return what came of it, empty if nothing is known yet.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        self.rules.idle_since_s(circuit)
        moment = self._present.settled_moment()
        if moment is None:
            return []
        outcomes = self.rules.cut_now(circuit, moment)
        self._carry_out(outcomes, context)
        return outcomes

    @callback
    def async_keep(self, circuit: str, until_s: float) -> None:
        """Leave a circuit on until a time.

        Raises:
            KeyError: the boat has no circuit of that name.
            ValueError: the time is past or more than a week away.
        """
        self._carry_out(self.rules.keep(circuit, time.time(), until_s))
        self._present.async_look_again()
        self._state.async_save_soon()

    @callback
    def async_inspected(self, subentry_id: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        if (circuit := self.names.get(subentry_id)) is None:
            return
        self.rules.inspected(circuit)
        self._occurrences.inspected(circuit)
        self._stuck.async_refresh()
        self._present.async_look_again()
        self._state.async_save_soon()

    def _relay(self, circuit: str) -> str | None:
        known = self._boat.circuit(circuit)
        return None if known is None else known.relay

    def _carry_out(
        self, outcomes: list[Outcome], context: Context | None = None
    ) -> None:
        if not outcomes:
            return
        self._occurrences.hear(outcomes)
        for outcome in outcomes:
            if isinstance(outcome, Cut):
                self._entry.async_create_task(
                    self._hass,
                    self._async_open(outcome.circuit, context),
                    f"open {outcome.circuit}",
                )
            elif isinstance(outcome, Stuck):
                self._stuck.async_refresh()
            self._outcomes.async_notify(outcome)
        if any(isinstance(o, Ask | Cut | Stuck | QuestionOver) for o in outcomes):
            self._state.async_save_soon()

    async def _async_open(self, circuit: str, context: Context | None) -> None:
        """Open a circuit's relay. What comes of it is for the readings to say."""
        relay = self._relay(circuit)
        try:
            ordered = relay is not None and await async_open_relay(
                self._hass, relay, context
            )
        except Unauthorized:
            self._carry_out(self.rules.withdraw(circuit, time.time()))
            return
        if not ordered:
            self._carry_out(self.rules.failed(circuit, time.time()))
