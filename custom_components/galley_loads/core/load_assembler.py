"""Readings become load samples.

Each sensor's last value holds until the next (a zero-order hold), for as long as `sources`
lets it be believed. With a load meter the load is what the meter says; without one it is
put together by `fusion`. Late, doubled and unreadable readings are counted and do no harm.

What comes out depends on the sequence of readings alone. `advance` only lets time pass: it
hands over a little earlier what the next reading would have handed over.
"""

from collections.abc import Mapping
from math import inf
from typing import Any, Final

from .boat import Boat, Supply
from .fusion import Fusion, Parts, Rest
from .load import LoadSample
from .readings import ABSENT_STATES, Reading, number_in
from .sources import HELD_IN_SILENCE_S, Role, Source, sources_of

STATE_VERSION: Final = 1

type _Beside = tuple[
    float | None,
    float | None,
    float | None,
    float | None,
    float | None,
    float | None,
    tuple[tuple[str, float | None], ...],
    frozenset[str],
    float | None,
]

_OPEN_STATES: Final = {"off": 1.0, "on": 0.0}


class LoadAssembler:
    """Turns the readings of one boat into samples of its load."""

    def __init__(self, boat: Boat) -> None:
        """Start with nothing heard.

        Attributes:
            late: readings older than the clock, applied or not.
            dropped: those of them that came after a newer one of the same sensor.
            doubled: readings that repeat time and value of the one before.
            unreadable: readings whose state is neither a number nor an absence.
        """
        self.boat = boat
        self._conversion = boat.conversion
        self._sources = {source.entity_id: source for source in sources_of(boat)}
        everything = tuple(self._sources.values())
        self._solar = tuple(s for s in everything if s.role is Role.SOLAR)
        self._other = tuple(s for s in everything if s.role is Role.OTHER_CHARGING)
        self._meters = tuple(s for s in everything if s.role is Role.METER)
        self._relays = tuple(s for s in everything if s.role is Role.RELAY)
        by_role = {source.role: source for source in everything}
        self._ac_load = by_role.get(Role.AC_LOAD)
        self._dc_load = by_role.get(Role.DC_LOAD)
        self._power = by_role.get(Role.BATTERY_POWER)
        self._current = by_role.get(Role.BATTERY_CURRENT)
        self._voltage = by_role.get(Role.BATTERY_VOLTAGE)
        self._soc = by_role.get(Role.SOC)
        self._temperature = by_role.get(Role.TEMPERATURE)
        dc_appliances = [a.name for a in boat.appliances if a.supply is Supply.DC]
        if self._ac_load is not None and not dc_appliances:
            self._dc_load = None
        self._dc_meters = tuple(
            s
            for s in self._meters
            if s.owner in dc_appliances
            and self._ac_load is not None
            and self._dc_load is None
        )
        self._by_current = self._power is None
        self._companions: dict[str, int] = {}
        self._fusion: Fusion | None = None
        if self._ac_load is None and self._dc_load is None:
            beside = [*self._solar, *self._other]
            if self._by_current and self._voltage is not None:
                beside.append(self._voltage)
            self._companions = {s.entity_id: index for index, s in enumerate(beside)}
            self._fusion = Fusion(
                len(beside), self._conversion, by_current=self._by_current
            )
        self._open_circuits: frozenset[str] = frozenset()
        # What stands beside the load in a sample, until one of its sources changes.
        self._beside: _Beside | None = None
        self._clock_s = -inf
        self._now_s = -inf
        self._expiry_s = -inf
        self._due_s = -inf
        self.late = 0
        self.dropped = 0
        self.doubled = 0
        self.unreadable = 0

    @property
    def entity_ids(self) -> frozenset[str]:
        """The entities whose readings count; all others are ignored."""
        return frozenset(self._sources)

    @property
    def held_since_s(self) -> float | None:
        """The earliest moment for which a sample is held back; None if none is."""
        return None if self._fusion is None else self._fusion.held_since_s

    @property
    def missing(self) -> tuple[str, ...]:
        """One sentence for every source that is not known at present."""
        now_s = max(self._now_s, self._clock_s)
        complaints = (source.complaint(now_s) for source in self._sources.values())
        return tuple(text for text in complaints if text is not None)

    def feed(self, reading: Reading) -> list[LoadSample]:
        """Take in one reading; return the samples it gives, in order of time."""
        source = self._sources.get(reading.entity_id)
        if source is None:
            return []
        at_s = reading.at_s
        samples = self._pass(at_s) if at_s >= self._due_s else []
        role = source.role
        if role is Role.RELAY:
            value = _OPEN_STATES.get(reading.state)
        else:
            value = number_in(reading.state)
            if value is not None:
                value *= source.scale
        reported_s = source.reported_s
        if reported_s is not None and at_s <= reported_s:
            if at_s == reported_s and value == source.value:
                self.doubled += 1
                return samples
            if at_s < reported_s:
                self.late += 1
                self.dropped += 1
                return samples
        source.reported_s = at_s
        if at_s < self._clock_s:
            self.late += 1
            at_s = self._clock_s
        else:
            self._clock_s = at_s
        before = source.value
        if value is None:
            why = reading.state
            if why not in ABSENT_STATES:
                self.unreadable += 1
                why = "unreadable"
            if source.why_none == "" or before is None:
                source.lose(why if why in ("unavailable", "unreadable") else "unknown")
        else:
            source.value = value
            source.why_none = ""
            source.asleep = False
        if source.value != before:
            samples += self._changed(source, before, at_s)
        return samples

    def advance(self, at_s: float) -> list[LoadSample]:
        """Let time pass; return samples that fall due up to `at_s`, in order of time."""
        self._now_s = max(self._now_s, at_s)
        return self._pass(at_s) if at_s >= self._due_s else []

    def finish(self) -> list[LoadSample]:
        """End of the history: return what is held back, and what holds at the end."""
        if self._clock_s == -inf:
            return []
        samples = self._pass(self._clock_s)
        if self._fusion is None:
            return [*samples, self._sample(self._clock_s)]
        self._fusion.rest_changed(self._clock_s, *self._parts())
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
        if source.role is Role.RELAY:
            self._open_circuits = frozenset(
                s.owner for s in self._relays if s.value == 1.0
            )
            if (before == 1.0) == (source.value == 1.0):
                return []
        if source.role is Role.DC_LOAD and self._dc_load is None:
            return []
        if self._fusion is None:
            if source is not self._ac_load and source is not self._dc_load:
                self._beside = None
            return [self._sample(at_s)]
        return self._fuse(self._fusion, source, before, at_s)

    def _fuse(
        self, fusion: Fusion, source: Source, before: float | None, at_s: float
    ) -> list[LoadSample]:
        parts, rest = self._parts()
        index = self._companions.get(source.entity_id)
        if index is None and not self._is_clock(source):
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

    def _parts(self) -> tuple[Parts, Rest]:
        """Return what the sensors say now, for putting the load together."""
        solar_w = _total(self._solar)
        battery_w, battery_a, voltage_v = self._bank()
        bank, factor_v = battery_w, 1.0
        if self._by_current and self._voltage is not None:
            bank = None if battery_w is None else battery_a
            factor_v = voltage_v or 0.0
        parts = Parts(
            solar_w if self._solar else 0.0, _total(self._other), bank, factor_v
        )
        return parts, self._rest(battery_a, voltage_v)

    def _is_clock(self, source: Source) -> bool:
        """Whether the bank's power is told by this source at present."""
        if self._power is None or self._power.value is None:
            return source in (self._power, self._current, self._voltage)
        return source is self._power

    def _sample(self, at_s: float) -> LoadSample:
        beside = self._beside
        if beside is None:
            battery_w, battery_a, voltage_v = self._bank()
            rest = self._rest(battery_a, voltage_v)
            beside = self._beside = (
                _total(self._solar),
                _total(self._other),
                battery_w,
                battery_a,
                voltage_v,
                rest.soc,
                rest.metered_w,
                rest.open_circuits,
                rest.temperature_c,
            )
        return LoadSample(at_s, self._load_w(), *beside)

    def _load_w(self) -> float | None:
        """Return the load as the meters say it, on the AC side."""
        dc_w = None if self._dc_load is None else self._dc_load.value
        if self._ac_load is None:
            return None if dc_w is None else max(0.0, dc_w) * self._conversion
        ac_w = self._ac_load.value
        if ac_w is None:
            return None
        # What a lost DC meter would have added is not known; the rest still is.
        load_w = max(0.0, ac_w)
        if dc_w is not None:
            load_w += max(0.0, dc_w) * self._conversion
        for meter in self._dc_meters:
            load_w += meter.value or 0.0
        return load_w

    def _bank(self) -> tuple[float | None, float | None, float | None]:
        """Return the bank's power in W, current in A and voltage in V."""
        voltage_v = None if self._voltage is None else self._voltage.value
        battery_a = None if self._current is None else self._current.value
        battery_w = None if self._power is None else self._power.value
        if battery_w is None and battery_a is not None and voltage_v is not None:
            battery_w = battery_a * voltage_v
        elif battery_a is None and battery_w is not None and voltage_v:
            battery_a = battery_w / voltage_v
        return battery_w, battery_a, voltage_v

    def _rest(self, battery_a: float | None, voltage_v: float | None) -> Rest:
        soc, temperature = self._soc, self._temperature
        return Rest(
            voltage_v,
            battery_a,
            None if soc is None else soc.value,
            tuple((s.owner, s.value) for s in self._meters) if self._meters else (),
            self._open_circuits,
            None if temperature is None else temperature.value,
        )

    def snapshot(self) -> dict[str, Any]:
        """Return the whole state as plain data, fit for JSON."""
        return {
            "version": STATE_VERSION,
            "sources": {
                entity_id: source.as_row()
                for entity_id, source in self._sources.items()
            },
            "fusion": None if self._fusion is None else self._fusion.snapshot(),
            "clock_s": None if self._clock_s == -inf else self._clock_s,
            "expiry_s": None if self._expiry_s == -inf else self._expiry_s,
            "counts": [self.late, self.dropped, self.doubled, self.unreadable],
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take back what `snapshot` gave, into a fresh assembler of the same boat.

        Raises:
            ValueError: the state is of a version this assembler cannot read.
        """
        if state.get("version") != STATE_VERSION:
            raise ValueError(
                f"assembler state version {state.get('version')!r} is not {STATE_VERSION}"
            )
        for entity_id, row in state["sources"].items():
            if entity_id in self._sources:
                self._sources[entity_id].take_row(row)
        if self._fusion is not None and state["fusion"] is not None:
            self._fusion.restore(state["fusion"])
        self._clock_s = -inf if state["clock_s"] is None else state["clock_s"]
        self._expiry_s = -inf if state["expiry_s"] is None else state["expiry_s"]
        self.late, self.dropped, self.doubled, self.unreadable = state["counts"]
        self._open_circuits = frozenset(s.owner for s in self._relays if s.value == 1.0)
        self._set_due()


def _total(sources: tuple[Source, ...]) -> float | None:
    """Return the sum of the sources; None if one is not known, or there is none."""
    if not sources:
        return None
    total_w = 0.0
    for source in sources:
        if source.value is None:
            return None
        total_w += source.value
    return total_w
