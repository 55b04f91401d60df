"""What occurs to circuits: standby left on, and cuts that did not take effect.

A circuit is left on once per idle spell: from when nobody cooks on it any more until
somebody does, or its relay opens. It is found by the circuit's own figures, the same that
its sensors show and its relay is cut by; a question of the rules of cutting makes it
certain.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

from ..boat.boat import Boat, Circuit
from ..cutting import Ask, Outcome, QuestionOver, Stuck
from ..standby import standby_cost
from .facts import Facts
from .occurrence import Occurrence, OccurrenceKind

ASKED: Final = "asked"
NO_RELAY: Final = "no_relay"
NOT_ASKED: Final = "not_asked"
"""Variants of a circuit that is left on: with a question open, without a relay, neither."""

LEAST_W: Final = 5.0
"""A smaller standby is nobody's concern (a judgement)."""

NO_RELAY_IDLE_S: Final = 3600.0
"""A circuit without a relay is reported after an hour; somebody has to get up for it."""

_CHECKED: Final = 1.0
_SEEN: Final = 0.9
"""How certain it is that nobody cooks: by all checks of cutting, and by idle time alone
(judgements)."""


@dataclass(slots=True)
class _Spell:
    """One idle spell that is reported: `since_s` is when it began.

    With a question open, `token` is the question's and `asked_w` the standby when it was
    asked.
    """

    since_s: float
    token: str | None = None
    asked_w: float | None = None


class CircuitOccurrences:
    """Follows idle spells and what the rules of cutting ask and report."""

    def __init__(self, boat: Boat) -> None:
        """Know the circuits and what hangs on them."""
        self._boat = boat
        self._members = {
            circuit.name: [a.name for a in boat.appliances if a.circuit == circuit.name]
            for circuit in boat.circuits
        }
        self._spells: dict[str, _Spell] = {}
        self._stuck: dict[str, tuple[str, float]] = {}

    def hear(self, outcomes: Iterable[Outcome]) -> None:
        """Take what the rules of cutting decided."""
        for outcome in outcomes:
            match outcome:
                case Ask(circuit, _, question, standby_w, idle_since_s):
                    spell = self._spells.setdefault(circuit, _Spell(idle_since_s))
                    spell.token, spell.asked_w = question.token, standby_w
                case QuestionOver(circuit):
                    if (known := self._spells.get(circuit)) is not None:
                        known.token = known.asked_w = None
                case Stuck(circuit, at_s, trouble):
                    self._stuck[circuit] = (trouble.value, at_s)

    def inspected(self, circuit: str) -> None:
        """Take that somebody has looked at a stuck relay."""
        self._stuck.pop(circuit, None)

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        occurrences = [
            Occurrence(
                OccurrenceKind.CUT_FAILED,
                circuit,
                f"{at_s:.0f}",
                at_s,
                1.0,
                {},
                trouble,
            )
            for circuit, (trouble, at_s) in self._stuck.items()
        ]
        for circuit in self._boat.circuits:
            occurrences += self._left_on(circuit, facts)
        return occurrences

    def _left_on(self, circuit: Circuit, facts: Facts) -> list[Occurrence]:
        name = circuit.name
        spell = self._spells.get(name)
        if not (spell is not None and spell.token) and self._in_use(circuit, facts):
            self._spells.pop(name, None)
            return []
        standby_w, since_s = facts.standby_w.get(name), facts.idle_since_s.get(name)
        if spell is None or spell.token is None:
            if standby_w is None or standby_w < LEAST_W:
                return []
            if since_s is None or facts.at_s - since_s < _patience_s(circuit):
                return []
        if spell is None:
            if since_s is None or facts.live.load_w is None:
                return []
            spell = self._spells[name] = _Spell(since_s)
        if standby_w is None:
            standby_w = spell.asked_w
        day_ah = None
        if standby_w is not None:
            day_ah = standby_cost(self._boat, standby_w, 24).bank_ah
        return [
            Occurrence(
                OccurrenceKind.STANDBY_LEFT_ON,
                name,
                f"{spell.since_s:.0f}",
                spell.since_s,
                _SEEN if spell.token is None else _CHECKED,
                {
                    "idle_s": facts.at_s - spell.since_s,
                    "standby_w": standby_w,
                    "day_ah": day_ah,
                    "token": spell.token,
                },
                _variant(circuit, spell),
            )
        ]

    def _in_use(self, circuit: Circuit, facts: Facts) -> bool:
        """Return whether somebody cooks on a circuit, or it is not known to be live."""
        if circuit.relay is not None and not facts.relay_closed.get(circuit.name):
            return True
        return any(
            facts.live.appliance(name).perhaps_running
            for name in self._members[circuit.name]
        )

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "spells": {name: asdict(spell) for name, spell in self._spells.items()},
            "stuck": {name: list(stuck) for name, stuck in self._stuck.items()},
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`; circuits that are gone are forgotten."""
        self._spells = {
            name: _Spell(**spell)
            for name, spell in state["spells"].items()
            if name in self._members
        }
        self._stuck = {
            name: (trouble, at_s)
            for name, (trouble, at_s) in state["stuck"].items()
            if name in self._members
        }


def _variant(circuit: Circuit, spell: _Spell) -> str:
    if spell.token is not None:
        return ASKED
    return NO_RELAY if circuit.relay is None else NOT_ASKED


def _patience_s(circuit: Circuit) -> float:
    idle_s = 60.0 * circuit.idle_minutes
    return idle_s if circuit.relay else max(idle_s, NO_RELAY_IDLE_S)
