"""Readings at the pace of the platform: in turns, with time passing between them.

The integration works through what came in at most every two seconds, and lets time pass
every ten. Whoever wants to know what a crew would have seen of a history must look when
they could have looked: after each turn, and never with a reading that came later.
"""

from collections.abc import Callable, Iterable
from math import inf
from typing import Final

from ..engine import Engine
from ..events import Event
from ..live.live_view import LiveView
from ..metering.load_sample import LoadSample
from ..metering.reading import Reading

TURN_S: Final = 2.0
"""Readings are worked through at most this often, as the coordinator does."""

TICK_S: Final = 10.0
"""Time passes this often without a reading, as the coordinator lets it."""

type Look = Callable[[float, LiveView], None]
"""Called with the Unix time and what is shown then."""

type Hear = Callable[[float, list[Event]], None]
"""Called with the Unix time and what has just become settled."""


class Turns:
    """Feeds an engine as the platform does and lets somebody look after each turn.

    A turn that changed neither the load nor what a meter of an appliance says shows
    nothing new before the next tick, so nobody looks.
    """

    def __init__(self, engine: Engine, look: Look, hear: Hear) -> None:
        """Start before the first reading."""
        self._engine = engine
        self._look = look
        self._hear = hear
        self._queue: list[Reading] = []
        self._turn_due_s = inf
        self._tick_due_s = inf
        self._turned_s = -inf
        self._looked_at: LoadSample | None = None

    def feed_all(self, readings: Iterable[Reading]) -> None:
        """Take the next readings, in order of time."""
        for reading in readings:
            at_s = reading.at_s
            if self._tick_due_s == inf:
                self._tick_due_s = (at_s // TICK_S + 1.0) * TICK_S
            while at_s > min(self._turn_due_s, self._tick_due_s):
                self._next()
            self._queue.append(reading)
            if self._turn_due_s == inf:
                self._turn_due_s = max(at_s, self._turned_s + TURN_S)

    def finish(self) -> None:
        """Work through what is left; the engine's history is not ended by it."""
        if self._queue:
            self._turn(self._turn_due_s)

    def _next(self) -> None:
        """Do what is due next; a tick is a turn as well."""
        if self._turn_due_s < self._tick_due_s:
            self._turn(self._turn_due_s)
            return
        at_s = self._tick_due_s
        self._tick_due_s += TICK_S
        self._work(at_s)
        self._tell(at_s, self._engine.advance(at_s))
        self._show(at_s)

    def _turn(self, at_s: float) -> None:
        self._work(at_s)
        if not _shows_the_same(self._looked_at, self._engine.last_sample):
            self._show(at_s)

    def _work(self, at_s: float) -> None:
        queue, self._queue = self._queue, []
        self._turn_due_s, self._turned_s = inf, at_s
        self._engine.feed_all(queue, lambda events: self._tell(at_s, events))

    def _tell(self, at_s: float, events: list[Event]) -> None:
        if events:
            self._hear(at_s, events)

    def _show(self, at_s: float) -> None:
        self._looked_at = self._engine.last_sample
        if (view := self._engine.live()) is not None:
            self._look(at_s, view)


def _shows_the_same(before: LoadSample | None, now: LoadSample | None) -> bool:
    if before is None or now is None:
        return before is now
    return (
        before.load_w == now.load_w
        and before.metered_w == now.metered_w
        and before.open_circuits == now.open_circuits
    )
