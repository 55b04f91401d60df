"""The watch over one boat's circuits: cuts what may be cut, asks, and tells the crew.

The rules live in the core; here the present is put together for them, and what they say is
carried out: a relay is told to open, a question or a message goes out, a stuck contact
becomes a repair. Nothing here can close a circuit.
"""

from collections.abc import Callable, Iterable, Mapping
import logging
import secrets
import time
from typing import Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import CALLBACK_TYPE, Context, Event, HomeAssistant, callback
from homeassistant.exceptions import Unauthorized
from homeassistant.helpers import issue_registry as ir

from ..boat.boat_entry import parts_of
from ..boat.rights import RIGHTS, Right, async_demand
from ..const import DOMAIN, SUBENTRY_CIRCUIT
from ..coordinator import GalleyCoordinator
from ..core.advice import Advice
from ..core.cutting import (
    Answer,
    Ask,
    Asker,
    Cut,
    CutDesk,
    CutFacts,
    LogEntry,
    Outcome,
    QuestionOver,
    Stuck,
)
from ..core.events import Event as EngineEvent, MealSettled, RunSettled
from ..core.occasions.event_filter import AutomationEvent
from ..core.occasions.facts import facts_of
from ..core.occasions.meal_occurrences import PlannedMeal
from ..core.occasions.message_filter import Message
from ..core.occasions.reports import Reports
from ..core.occasions.timers import Timer, Timers
from ..meals.expected_meal import ExpectedMeal
from ..state.listeners import Listeners
from ..state.savings import Savings
from ..state.watch_store import StoredWatch, WatchStore, renamed_desk
from .night_ahead import NightAhead
from .notifications import EVENT_PHONE_ACTION, Notifier, PhoneAnswer, phone_answer
from .relay import async_open_relay
from .watch_options import WatchOptions
from .watch_present import WatchPresent

_LOGGER = logging.getLogger(__name__)

ISSUE_STUCK: Final = "relay_stuck"

_SAVE_S: Final = 600.0
_MOST_WAITING: Final = 8

type OutcomeListener = Callable[[Outcome], None]
type MessageListener = Callable[[Message], None]
type EventListener = Callable[[AutomationEvent], None]


class GalleyWatch:
    """Watches the circuits of one boat."""

    def __init__(
        self,
        hass: HomeAssistant,
        coordinator: GalleyCoordinator,
        expected: ExpectedMeal,
        night: NightAhead,
    ) -> None:
        """Start without a past."""
        self._hass = hass
        entry = coordinator.config_entry
        self._entry = entry
        self._coordinator = coordinator
        self._expected = expected
        self._night = night
        self._boat = coordinator.boat
        self._options = WatchOptions.of(entry.options)
        self._store = WatchStore(hass, entry.entry_id)
        self._notifier = Notifier(
            hass, entry.entry_id, self._options, self._boat.time_zone
        )
        self.circuit_names = {
            part.part_id: part.name for part in parts_of(entry, SUBENTRY_CIRCUIT)
        }
        self.desk, self._reports = self._fresh()
        self._savings = Savings(self.circuit_names)
        self._saved_s = 0.0
        self._present = WatchPresent(hass, coordinator)
        self._waiting: list[tuple[PhoneAnswer, Context]] = []
        self._outcomes = Listeners[Outcome]()
        self._messages = Listeners[Message]()
        self._events = Listeners[AutomationEvent]()

    def _fresh(self) -> tuple[CutDesk, Reports]:
        options = self._options
        desk = CutDesk(
            self._boat,
            lambda: secrets.token_hex(8),
            options.quiet_hours,
            cut_in_quiet_hours=options.cut_in_quiet_hours,
        )
        return desk, Reports(self._boat, options.kinds, options.quiet_hours)

    # Life

    async def async_start(self) -> None:
        """Take up what was kept, and begin to watch."""
        stored = await self._store.async_load()
        if stored is not None:
            self._take_up(stored)
        self._savings.show(self._savings.count(self.desk))
        for subentry_id, name in self.circuit_names.items():
            if self.desk.stuck(name) is not None:
                self._raise_issue(subentry_id, name)
            else:
                ir.async_delete_issue(self._hass, DOMAIN, issue_id(subentry_id))
        entry = self._entry
        entry.async_on_unload(
            self._hass.bus.async_listen_once(
                EVENT_HOMEASSISTANT_STOP, self._async_stops
            )
        )
        entry.async_on_unload(self._coordinator.async_add_listener(self._async_updated))
        entry.async_on_unload(self._coordinator.async_subscribe(self._settled))
        entry.async_on_unload(
            self._hass.bus.async_listen(EVENT_PHONE_ACTION, self._async_phone_answers)
        )

    @staticmethod
    async def async_remove(hass: HomeAssistant, entry: ConfigEntry) -> None:
        """Remove what was kept about a boat, and its repairs."""
        await WatchStore(hass, entry.entry_id).async_remove()
        for part in parts_of(entry, SUBENTRY_CIRCUIT):
            ir.async_delete_issue(hass, DOMAIN, issue_id(part.part_id))

    async def async_stop(self) -> None:
        """Keep what is known, once nothing comes in any more."""
        await self._async_save()

    async def _async_stops(self, _: Event) -> None:
        await self._async_save()

    def _take_up(self, stored: StoredWatch) -> None:
        old, new = stored["circuits"], self.circuit_names
        try:
            self.desk.restore(renamed_desk(stored["desk"], old, new))
            # What was reported is kept by names; after a renaming it is another subject.
            if old == new and stored["appliances"] == self._coordinator.appliance_names:
                self._reports.restore(stored["reports"])
        except (KeyError, TypeError, ValueError) as err:
            _LOGGER.warning(
                "%s: what the watch kept cannot be read: %r", self._entry.title, err
            )
            self.desk, self._reports = self._fresh()
        self._savings.go_on(stored, self.desk)

    @property
    def saved_wh(self) -> dict[str, float]:
        """The standby that cuts have saved, by circuit subentry id, as it was kept."""
        return self._savings.shown_wh

    @property
    def saved_total_wh(self) -> float:
        """The same for the boat, circuits that were removed included."""
        return self._savings.total_wh

    async def _async_save(self) -> None:
        savings = self._savings.count(self.desk)
        self._saved_s = time.time()
        await self._store.async_save(
            StoredWatch(
                circuits=self.circuit_names,
                appliances=self._coordinator.appliance_names,
                desk=self.desk.snapshot(),
                reports=self._reports.snapshot(),
                saved_wh=savings,
                gone_wh=self._savings.gone_wh,
            )
        )
        self._savings.show(savings)

    @callback
    def async_listen_outcomes(self, listener: OutcomeListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that the rules of cutting say."""
        return self._outcomes.async_add(listener)

    @callback
    def async_listen_messages(self, listener: MessageListener) -> CALLBACK_TYPE:
        """Call `listener` with every message to the crew."""
        return self._messages.async_add(listener)

    @callback
    def async_listen_events(self, listener: EventListener) -> CALLBACK_TYPE:
        """Call `listener` with everything that automations may hear."""
        return self._events.async_add(listener)

    def has_relay(self, subentry_id: str) -> bool:
        """Return whether a circuit has a relay."""
        circuit = self._boat.circuit(self.circuit_names[subentry_id])
        return circuit is not None and circuit.relay is not None

    # The present

    def moment(self) -> CutFacts | None:
        """Return the present for the rules of cutting, None before anything is known."""
        return self._present.moment()

    @property
    def _is_ready(self) -> bool:
        """Whether the present is explained as well as it will be.

        Before the past is read it may be explained otherwise yet.
        """
        return not (self._coordinator.catching_up or self._coordinator.provisional)

    @callback
    def _async_updated(self) -> None:
        """Take over the present, and look at it."""
        self._present.see()
        if (view := self._present.view) is not None:
            self._night.look(view, self._reports.watch.remaining_wh)
        self._look()

    @callback
    def _look(self) -> None:
        """Look at the boat, and do what the rules say."""
        moment = self.moment()
        if moment is None or not self._is_ready:
            return
        self._carry_out(self.desk.observe(moment))
        waiting, self._waiting = self._waiting, []
        for pressed, context in waiting:
            outcomes = self.desk.answer(pressed.token, pressed.answer, moment)
            self._carry_out(outcomes, context)
        idle_since_s = {
            c.name: self.desk.idle_since_s(c.name) for c in self._boat.circuits
        }
        facts = facts_of(self._boat, moment, idle_since_s, self._night.outlook)
        events, messages = self._reports.observe(facts)
        self._report(events)
        self._send(messages)
        if not 0 <= time.time() - self._saved_s < _SAVE_S:
            self._save_soon()

    @callback
    def _settled(self, events: list[EngineEvent], is_news: bool) -> None:
        for event in events:
            if isinstance(event, RunSettled):
                self._reports.watch.settle_run(event.run)
            elif isinstance(event, MealSettled) and is_news:
                meals = self._expected.meals
                planned = meals.of(event.meal)
                expected_ah = None if planned is None else planned.expected_ah
                known = PlannedMeal(meals.reckon(event.meal), expected_ah)
                self._report(self._reports.settle_meal(event.meal, known))

    # What follows

    def _carry_out(
        self, outcomes: list[Outcome], context: Context | None = None
    ) -> None:
        if not outcomes:
            return
        self._reports.watch.hear(outcomes)
        for outcome in outcomes:
            match outcome:
                case Cut(circuit):
                    self._entry.async_create_task(
                        self._hass,
                        self._async_open(circuit, context),
                        f"open {circuit}",
                    )
                case Stuck(circuit):
                    self._raise_issue(self._subentry_id(circuit), circuit)
                case _:
                    pass
            self._outcomes.async_call(outcome)
        if any(isinstance(o, Ask | Cut | Stuck | QuestionOver) for o in outcomes):
            self._save_soon()

    async def _async_open(self, circuit: str, context: Context | None) -> None:
        """Open a circuit's relay. What comes of it is for the readings to say."""
        wanted = self._boat.circuit(circuit)
        relay = None if wanted is None else wanted.relay
        try:
            told = relay is not None and await async_open_relay(
                self._hass, relay, context
            )
        except Unauthorized:
            self._carry_out(self.desk.withdraw(circuit, time.time()))
            return
        if not told:
            self._carry_out(self.desk.failed(circuit, time.time()))

    def _report(self, events: list[AutomationEvent]) -> None:
        for event in events:
            self._events.async_call(event)

    def _send(self, messages: list[Message]) -> None:
        if not messages:
            return
        for message in messages:
            self._messages.async_call(message)
        self._entry.async_create_background_task(
            self._hass,
            self._notifier.async_send(messages),
            f"{self._entry.title} messages",
        )
        self._save_soon()

    def _save_soon(self) -> None:
        """Save at once: a question must outlive even a power cut."""
        self._saved_s = time.time()
        self._entry.async_create_task(
            self._hass, self._async_save(), f"{self._entry.title} watch is kept"
        )

    def _subentry_id(self, circuit: str) -> str:
        return next(
            (
                part_id
                for part_id, name in self.circuit_names.items()
                if name == circuit
            ),
            "",
        )

    def _raise_issue(self, subentry_id: str, circuit: str) -> None:
        trouble = self.desk.stuck(circuit)
        if trouble is None:
            return
        ir.async_create_issue(
            self._hass,
            DOMAIN,
            issue_id(subentry_id),
            is_fixable=True,
            is_persistent=False,
            severity=ir.IssueSeverity.ERROR,
            translation_key=f"{ISSUE_STUCK}_{trouble.value}",
            translation_placeholders={"boat": self._entry.title, "circuit": circuit},
            data={"entry_id": self._entry.entry_id, "subentry_id": subentry_id},
        )

    # What people want

    @callback
    def _async_phone_answers(self, event: Event) -> None:
        pressed = phone_answer(self._entry.entry_id, event.data)
        if pressed is not None:
            self._entry.async_create_task(
                self._hass,
                self._async_take_answer(pressed, event.context),
                f"{self._entry.title} phone answer",
            )

    async def _async_take_answer(self, pressed: PhoneAnswer, context: Context) -> None:
        """Take a phone's answer, if whoever holds the phone may give it.

        A question that somebody without the right answers stays open for the others.
        """
        circuit = self.desk.asked_about(pressed.token)
        if circuit is not None:
            is_cut = pressed.answer is Answer.CUT
            action = "cut_now" if is_cut else "keep_circuit"
            try:
                await self._async_demand(RIGHTS[action], circuit, context)
            except Unauthorized:
                if is_cut:
                    self._refuse(circuit, Asker.ANSWER)
                return
        if len(self._waiting) < _MOST_WAITING:
            # Right after a start nothing is known yet; the answer waits for that.
            self._waiting.append((pressed, context))
            self._look()

    async def _async_demand(
        self, rights: Iterable[Right], circuit: str, context: Context | None
    ) -> None:
        known = self._boat.circuit(circuit)
        relay = None if known is None else known.relay
        await async_demand(self._hass, context, rights, self._entry, relay)

    def _refuse(self, circuit: str, by: Asker) -> None:
        """Write down that somebody may not have a circuit cut."""
        self._carry_out(self.desk.refuse(circuit, time.time(), by))

    async def async_cut_for(
        self, context: Context | None, circuit: str
    ) -> list[Outcome]:
        """Cut a circuit for a person, who has to have the right to.

        Raises:
            KeyError: the boat has no circuit of that name.
            Unauthorized: that person may not control its relay.
        """
        try:
            await self._async_demand(RIGHTS["cut_now"], circuit, context)
        except Unauthorized:
            self._refuse(circuit, Asker.PERSON)
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
        self.desk.idle_since_s(circuit)
        moment = self.moment()
        if moment is None or not self._is_ready:
            return []
        outcomes = self.desk.cut_now(circuit, moment)
        self._carry_out(outcomes, context)
        return outcomes

    @callback
    def async_keep(self, circuit: str, until_s: float) -> None:
        """Leave a circuit on until a time.

        Raises:
            KeyError: the boat has no circuit of that name.
            ValueError: the time is past or more than a week away.
        """
        self._carry_out(self.desk.keep(circuit, time.time(), until_s))
        self._look()
        self._save_soon()

    @callback
    def async_inspected(self, subentry_id: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        if (circuit := self.circuit_names.get(subentry_id)) is None:
            return
        self.desk.inspected(circuit)
        self._reports.watch.inspected(circuit)
        ir.async_delete_issue(self._hass, DOMAIN, issue_id(subentry_id))
        self._look()
        self._save_soon()

    @callback
    def async_planned(self) -> None:
        """Take that the crew has planned another dish, or none."""
        self._reports.watch.plan()

    @callback
    def async_advised(self, advice: Advice) -> None:
        """Take the advice on the planned dish."""
        self._report(
            self._reports.advise(
                advice.at_s, advice.dish, advice.verdict, advice.confidence
            )
        )

    @callback
    def async_recall(self, minutes: Mapping[str, Iterable[float]]) -> None:
        """Take how long appliances have run before, by name."""
        self._reports.watch.recall(minutes)

    @property
    def timers(self) -> Timers:
        """The appliances' timers."""
        return self._reports.watch.timers

    @callback
    def async_set_timer(self, appliance: str, minutes: float) -> Timer:
        """Set an appliance's timer.

        Raises:
            PhrasedError: it holds no temperature, or the minutes make no sense.
        """
        timer = self.timers.set(appliance, minutes, time.time())
        self._look()
        self._save_soon()
        return timer

    @callback
    def async_cancel_timer(self, appliance: str) -> bool:
        """Drop an appliance's timer; return whether there was one."""
        was_set = self.timers.cancel(appliance)
        self._look()
        self._save_soon()
        return was_set

    @property
    def log(self) -> tuple[LogEntry, ...]:
        """The last cuts, refusals, questions and answers, oldest first."""
        return self.desk.log


def issue_id(subentry_id: str) -> str:
    """Return the id of the repair about a circuit's relay."""
    return f"{ISSUE_STUCK}_{subentry_id}"
