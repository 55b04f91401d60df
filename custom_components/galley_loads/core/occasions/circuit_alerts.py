"""Alerts about circuits: standby left on, and cuts that did not take effect."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

from ..boat.boat import Boat
from ..cutting import Ask, Outcome, QuestionOver, Stuck, Trouble
from ..standby import standby_cost
from . import texts
from .facts import Facts
from .occasion import AlertKind, Occasion

_WORTH_TELLING_W: Final = 5.0
_WATCHED_IDLE_S: Final = 3600.0
"""A circuit without a relay is told of after an hour; the crew has to get up for it."""


class Circuits:
    """Keeps what the rules of cutting ask and report until it is over."""

    def __init__(self, boat: Boat) -> None:
        """Know the circuits."""
        self._boat = boat
        self._names = {circuit.name for circuit in boat.circuits}
        self._asked: dict[str, tuple[str, str, str, str]] = {}
        self._stuck: dict[str, tuple[str, float]] = {}

    def hear(self, outcomes: Iterable[Outcome]) -> None:
        """Take what the rules of cutting said."""
        for outcome in outcomes:
            match outcome:
                case Ask(circuit, at_s, question, standby_w, idle_since_s):
                    # The words are those of the moment of asking.
                    title, message = texts.standby_left_on(
                        circuit,
                        at_s - idle_since_s,
                        standby_w,
                        self._day_ah(standby_w),
                        asks=True,
                    )
                    key = f"{question.asked_s:.0f}"
                    self._asked[circuit] = (key, title, message, question.token)
                case QuestionOver(circuit):
                    self._asked.pop(circuit, None)
                case Stuck(circuit, at_s, trouble):
                    self._stuck[circuit] = (trouble.value, at_s)

    def inspected(self, circuit: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        self._stuck.pop(circuit, None)

    def _day_ah(self, standby_w: float | None) -> float | None:
        if standby_w is None:
            return None
        return standby_cost(self._boat, standby_w, 24).bank_ah

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasions that stand."""
        occasions = [
            Occasion(AlertKind.STANDBY_LEFT_ON, circuit, key, title, message, token)
            for circuit, (key, title, message, token) in self._asked.items()
        ]
        for circuit, (trouble, at_s) in self._stuck.items():
            silent = trouble == Trouble.RELAY_DID_NOT_OPEN
            text = texts.cut_failed(circuit, relay_silent=silent)
            occasions.append(
                Occasion(AlertKind.CUT_FAILED, circuit, f"{at_s:.0f}", *text)
            )
        return occasions + self._watched(facts)

    def _watched(self, facts: Facts) -> list[Occasion]:
        """Return the circuits that nobody can cut from here but that cost something."""
        occasions: list[Occasion] = []
        for circuit in self._boat.circuits:
            if circuit.relay is not None:
                continue
            standby_w = facts.standby_w.get(circuit.name)
            since_s = facts.idle_since_s.get(circuit.name)
            if standby_w is None or since_s is None or standby_w < _WORTH_TELLING_W:
                continue
            idle_s = facts.at_s - since_s
            if idle_s < max(_WATCHED_IDLE_S, 60.0 * circuit.idle_minutes):
                continue
            text = texts.standby_left_on(
                circuit.name, idle_s, standby_w, self._day_ah(standby_w), asks=False
            )
            kind = AlertKind.STANDBY_LEFT_ON
            occasions.append(Occasion(kind, circuit.name, f"{since_s:.0f}", *text))
        return occasions

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "asked": {name: list(asked) for name, asked in self._asked.items()},
            "stuck": {name: list(stuck) for name, stuck in self._stuck.items()},
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`; circuits that are gone are forgotten."""
        self._asked = {
            name: (key, title, message, token)
            for name, (key, title, message, token) in state["asked"].items()
            if name in self._names
        }
        self._stuck = {
            name: (trouble, at_s)
            for name, (trouble, at_s) in state["stuck"].items()
            if name in self._names
        }
