"""A condition that must last before it counts, and must be gone for a while to end."""

from collections.abc import Mapping
from typing import Any


class Episode:
    """Smooths one condition over time.

    It stands once the condition has held for `on_s`, and ends once it has been gone for
    `off_s`. When it comes back within `same_s` after its end it is the same episode, with
    the same start: nobody wants to hear twice of a pan that hovers at the limit.
    """

    __slots__ = ("_ended_s", "_false_since_s", "_off_s", "_on_s", "_same_s", "_start_s",
                 "_true_since_s", "standing")  # fmt: skip

    def __init__(self, on_s: float, off_s: float, same_s: float = 0.0) -> None:
        """Start without an episode."""
        self._on_s, self._off_s, self._same_s = on_s, off_s, same_s
        self.standing = False
        self._start_s: float | None = None
        self._ended_s: float | None = None
        self._true_since_s: float | None = None
        self._false_since_s: float | None = None

    def observe(self, at_s: float, condition: bool) -> bool:
        """Take whether the condition holds at `at_s`; return whether the episode stands."""
        if condition:
            self._false_since_s = None
            if self._true_since_s is None:
                self._true_since_s = at_s
            if not self.standing and at_s - self._true_since_s >= self._on_s:
                self.standing = True
                again = (
                    self._ended_s is not None and at_s - self._ended_s < self._same_s
                )
                if not again or self._start_s is None:
                    self._start_s = self._true_since_s
        else:
            self._true_since_s = None
            if self._false_since_s is None:
                self._false_since_s = at_s
            if self.standing and at_s - self._false_since_s >= self._off_s:
                self.standing = False
                self._ended_s = at_s
        return self.standing

    @property
    def start_s(self) -> float:
        """When this episode, or the last one, began, Unix time; 0 before the first."""
        return self._start_s or 0.0

    @property
    def key(self) -> str:
        """What tells this episode from others."""
        return f"{self.start_s:.0f}"

    def snapshot(self) -> list[Any]:
        """Return the state as JSON-able data."""
        return [
            self.standing,
            self._start_s,
            self._ended_s,
            self._true_since_s,
            self._false_since_s,
        ]

    def restore(self, state: list[Any]) -> None:
        """Take up a state from `snapshot`."""
        (
            self.standing,
            self._start_s,
            self._ended_s,
            self._true_since_s,
            self._false_since_s,
        ) = state


def snapshot_all(episodes: Mapping[str, Episode]) -> dict[str, list[Any]]:
    """Return the states of several episodes as JSON-able data."""
    return {name: episode.snapshot() for name, episode in episodes.items()}


def restore_all(
    episodes: Mapping[str, Episode], state: Mapping[str, list[Any]]
) -> None:
    """Take up the states of those episodes that still exist."""
    for name, episode in episodes.items():
        if name in state:
            episode.restore(state[name])
