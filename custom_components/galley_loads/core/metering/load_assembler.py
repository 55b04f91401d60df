"""Readings become load samples.

Each sensor's last value holds until the next (a zero-order hold), for as long as `sources`
lets it be believed. With a load meter the load is what the meter says; without one it is
put together by `fusion`. Late, doubled and unreadable readings are counted and do no harm.

What comes out depends on the sequence of readings alone. `advance` only lets time pass: it
hands over a little earlier what the next reading would have handed over.
"""

from collections.abc import Iterable
from math import inf
from typing import Final, TypedDict

from ..boat.boat import Boat
from ..boat.sensor_role import Role
from ..stateful import StateError
from .clock_steps import TOLD_APART_S, ClockSteps, ClockStepsState
from .fusion import Fusion, FusionState
from .load_sample import LoadSample
from .meters import BoatMeters
from .reading import ABSENT_STATES, ReadingRow
from .source import HELD_IN_SILENCE_S, STEADY_ROLES, Complaint, Source, SourceState
from .wrong_sign import Turned, WrongSign

STATE_VERSION: Final = 1


KEPT_ROLES: Final = (Role.RELAY, *STEADY_ROLES)
"""What these say holds whatever the clock shows."""


class LoadAssemblerState(TypedDict):
    """What `LoadAssembler` saves."""

    version: int
    sources: dict[str, SourceState]
    fusion: FusionState | None
    clock_s: float | None
    expiry_s: float | None
    clock_steps: ClockStepsState
    counts: tuple[int, int, int, int]


class LoadAssembler:
    """Turns the readings of one boat into samples of its load."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing heard.

        Attributes:
            late: readings older than the clock, applied or not.
            dropped: those of them that came after a newer one of the same sensor.
            doubled: readings that repeat time and value of the one before.
            unreadable: readings whose state is neither a number that can be nor an absence.
            set_back_to_s: what the clock shows now that it was found to be set back; until
                `start_over` no reading is taken any more.
        """
        self.boat = boat
        self._meters = BoatMeters(boat)
        self._sources = self._meters.by_id
        self._companions = {
            source.entity_id: index
            for index, source in enumerate(self._meters.companions)
        }
        self._fusion = self._new_fusion()
        self._clock_s = -inf
        self._now_s = -inf
        self._expiry_s = -inf
        self._due_s = -inf
        self._clock_steps = ClockSteps()
        self.set_back_to_s: float | None = None
        self.late = 0
        self.dropped = 0
        self.doubled = 0
        self.unreadable = 0

    def _new_fusion(self) -> Fusion | None:
        if self._meters.has_load:
            return None
        return Fusion(
            len(self._companions),
            self.boat.conversion,
            by_current=self._meters.by_current,
        )

    @property
    def entity_ids(self) -> frozenset[str]:
        """The entities whose readings count; all others are ignored."""
        return frozenset(self._sources)

    @property
    def held_since_s(self) -> float | None:
        """The earliest moment for which a sample is held back; None if none is."""
        return None if self._fusion is None else self._fusion.held_since_s

    @property
    def missing(self) -> tuple[Complaint, ...]:
        """A complaint for every source that is not known at present."""
        now_s = max(self._now_s, self._clock_s)
        complaints = (source.complaint(now_s) for source in self._sources.values())
        return tuple(one for one in complaints if one is not None)

    @property
    def turned_meters(self) -> tuple[WrongSign, ...]:
        """The meters that count backwards."""
        return tuple(
            WrongSign(
                Turned.METER,
                (source.entity_id,),
                (source.called_with_id,),
                (source.direction.evidence(),),
            )
            for source in self._sources.values()
            if source.direction is not None and source.direction.is_backwards
        )

    def feed(self, reading: ReadingRow) -> list[LoadSample]:
        """Take in one reading; return the samples it gives, in order of time."""
        return self.feed_all((reading,))

    def feed_all(self, readings: Iterable[ReadingRow]) -> list[LoadSample]:
        """Take in the next readings, in order; return the samples they give.

        How many come at a time matters not. Each of some millions comes through here,
        hence no calls for what is the rule: a number, newer than all before it.
        A reading that shows that the clock was set back is the last one taken: look at
        `set_back_to_s`, and give what is left of an iterator once more after `start_over`.
        """
        samples: list[LoadSample] = []
        sources, changed, fusion = self._sources, self._meters.changed, self._fusion
        for entity_id, state, at_s in readings:
            source = sources.get(entity_id)
            if source is None:
                continue
            if at_s >= self._due_s:
                samples += self._pass(at_s)
            elif at_s < self._clock_s and self._clock_steps.is_set_back(
                entity_id, at_s, self._clock_s
            ):
                self.set_back_to_s = at_s
                break
            try:
                value = source.told[state]
            except KeyError:
                value = source.read(state)
            reported_s = source.reported_s
            if (
                reported_s is not None
                and at_s <= reported_s
                and self._is_old(source, value, at_s)
            ):
                continue
            source.reported_s = at_s
            if at_s < self._clock_s:
                self.late += 1
                at_s = self._clock_s
            else:
                self._clock_s = at_s
            before = source.value
            if value is None:
                self._lose(source, state)
            else:
                source.value = value
                if source.why_none:
                    source.why_none = ""
                    source.asleep = False
            if source.value == before:
                continue
            direction = source.direction
            if (
                direction is not None
                and value is not None
                and not direction.least_w <= value <= direction.most_w
            ):
                direction.see(value)
            if fusion is not None:
                samples += self._fuse(fusion, source, before, at_s)
            elif (sample := changed(source, at_s)) is not None:
                samples.append(sample)
        return samples

    def _is_old(self, source: Source, value: float | None, at_s: float) -> bool:
        """Return whether a reading says nothing that its source did not say already."""
        if at_s == source.reported_s and value == source.value:
            self.doubled += 1
            return True
        if source.reported_s is not None and at_s < source.reported_s:
            self.late += 1
            self.dropped += 1
            return True
        return False

    def _lose(self, source: Source, state: str) -> None:
        """Take in that a source tells no value; `state` is the text that it tells."""
        why = state
        if why not in ABSENT_STATES:
            self.unreadable += 1
            why = "unreadable"
        if source.why_none == "" or source.value is None:
            source.lose(why if why in ("unavailable", "unreadable") else "unknown")

    def advance(self, at_s: float) -> list[LoadSample]:
        """Let time pass; return samples that fall due up to `at_s`, in order of time."""
        self._now_s = max(self._now_s, at_s)
        return self._pass(at_s) if at_s >= self._due_s else []

    def is_before(self, at_s: float) -> bool:
        """Return whether a clock that shows `at_s` must have been set back."""
        return at_s < max(self._now_s, self._clock_s) - TOLD_APART_S

    def start_over(self, at_s: float) -> LoadSample:
        """Go on from `at_s`, earlier or later: the clock was set. Return what is known.

        No power is believed until its sensor speaks again. What changes slowly and what
        relays said goes on.
        """
        for source in self._sources.values():
            if source.reported_s is None:
                continue
            source.reported_s = at_s
            if source.role not in KEPT_ROLES and source.why_none == "":
                source.lose("silent")
        self._fusion = self._new_fusion()
        self._meters.renew_all()
        self._clock_s = self._now_s = at_s
        self._expiry_s = self._due_s = -inf
        self._clock_steps = ClockSteps()
        self.set_back_to_s = None
        return self._meters.sample(at_s)

    def finish(self) -> list[LoadSample]:
        """End of the history: return what is held back, and what holds at the end."""
        if self._clock_s == -inf:
            return []
        samples = self._pass(self._clock_s)
        if self._fusion is None:
            return [*samples, self._meters.sample(self._clock_s)]
        self._fusion.rest_changed(
            self._clock_s, self._meters.parts(), self._meters.rest()
        )
        return [*samples, *self._fusion.release(inf)]

    def _pass(self, at_s: float) -> list[LoadSample]:
        """End what may not be believed any longer, and decide what is due."""
        samples = self._expire(at_s) if at_s >= self._expiry_s else []
        if self._fusion is not None:
            samples += self._fusion.release(at_s)
        self._set_due()
        return samples

    def _expire(self, at_s: float) -> list[LoadSample]:
        samples: list[LoadSample] = []
        while True:
            expiry_s, entity_id = min(
                (
                    (source.held_until_s(self._clock_s), source.entity_id)
                    for source in self._sources.values()
                    if source.value is not None
                ),
                default=(inf, ""),
            )
            if expiry_s > at_s:
                break
            source = self._sources[entity_id]
            before = source.value
            source.lose("silent")
            samples += self._changed(source, before, max(expiry_s, self._clock_s))
        # Whatever is reported from now on is believed for at least this long.
        self._expiry_s = min(expiry_s, self._clock_s + HELD_IN_SILENCE_S)
        return samples

    def _set_due(self) -> None:
        self._due_s = self._expiry_s
        if self._fusion is not None:
            self._due_s = min(self._due_s, self._fusion.due_s)

    def _changed(
        self, source: Source, before: float | None, at_s: float
    ) -> list[LoadSample]:
        """Return the samples that a new value of a source gives."""
        if self._fusion is not None:
            return self._fuse(self._fusion, source, before, at_s)
        sample = self._meters.changed(source, at_s)
        return [] if sample is None else [sample]

    def _fuse(
        self, fusion: Fusion, source: Source, before: float | None, at_s: float
    ) -> list[LoadSample]:
        if not self._meters.renew(source):
            return []
        parts, rest = self._meters.parts(), self._meters.rest()
        index = self._companions.get(source.entity_id)
        if index is None and not self._meters.is_clock(source):
            fusion.rest_changed(at_s, parts, rest)
        elif before is None or source.value is None:
            fusion.changed_hands(index, at_s, parts, rest)
        elif index is None:
            fusion.bank_spoke(at_s, parts, rest)
        else:
            fusion.companion_spoke(index, at_s, parts, rest)
        samples = fusion.release(self._clock_s)
        self._set_due()
        return samples

    def snapshot(self) -> LoadAssemblerState:
        """Return the whole state as plain data, fit for JSON."""
        return {
            "version": STATE_VERSION,
            "sources": {
                entity_id: source.snapshot()
                for entity_id, source in self._sources.items()
            },
            "fusion": None if self._fusion is None else self._fusion.snapshot(),
            "clock_s": None if self._clock_s == -inf else self._clock_s,
            "expiry_s": None if self._expiry_s == -inf else self._expiry_s,
            "clock_steps": self._clock_steps.snapshot(),
            "counts": (self.late, self.dropped, self.doubled, self.unreadable),
        }

    def restore(self, state: LoadAssemblerState) -> None:
        """Take back what `snapshot` gave, into a fresh assembler of the same boat.

        Raises:
            StateError: the state is of a version this assembler cannot read.
        """
        if state["version"] != STATE_VERSION:
            raise StateError(
                f"assembler state version {state['version']!r} is not {STATE_VERSION}"
            )
        for entity_id, saved in state["sources"].items():
            if entity_id in self._sources:
                self._sources[entity_id].restore(saved)
        if self._fusion is not None and state["fusion"] is not None:
            self._fusion.restore(state["fusion"])
        self._clock_s = -inf if state["clock_s"] is None else state["clock_s"]
        self._expiry_s = -inf if state["expiry_s"] is None else state["expiry_s"]
        self._clock_steps.restore(state["clock_steps"])
        self.late, self.dropped, self.doubled, self.unreadable = state["counts"]
        self._meters.renew_all()
        self._set_due()
