"""A load that is no longer measured while something was on."""

from collections.abc import Mapping
from typing import Any, Final

from .episode import Episode
from .facts import Facts, running_names
from .occurrence import Occurrence, OccurrenceKind

_COOKED_LATELY_S: Final = 120.0


class ReadingsWatch:
    """Says when the galley cannot be seen while something was on."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._running: list[str] = []
        self._running_s: float | None = None
        self._lost_s: float | None = None
        self._episode = Episode(60.0, 5.0, 600.0)

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        at_s = facts.at_s
        lost = facts.live.load_w is None
        if not lost:
            self._lost_s = None
            self._running = list(running_names(facts))
            if self._running:
                self._running_s = at_s
        elif self._lost_s is None:
            self._lost_s = at_s
        cooked = (
            self._running_s is not None
            and self._lost_s is not None
            and self._lost_s - self._running_s <= _COOKED_LATELY_S
        )
        standing = self._episode.observe(at_s, lost and cooked and bool(self._running))
        if not standing or self._lost_s is None:
            return []
        return [
            Occurrence(
                OccurrenceKind.READINGS_LOST,
                "",
                self._episode.key,
                self._lost_s,
                1.0,
                {"names": tuple(self._running), "lost_s": at_s - self._lost_s},
            )
        ]

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "running": self._running,
            "running_s": self._running_s,
            "lost_s": self._lost_s,
            "episode": self._episode.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._running, self._running_s = state["running"], state["running_s"]
        self._lost_s = state["lost_s"]
        self._episode.restore(state["episode"])
