"""The sun that goes away while it carries the cooking."""

from collections.abc import Mapping
from typing import Any, Final

from .episode import Episode
from .facts import Facts, running_names
from .occurrence import Occurrence, OccurrenceKind

_SUN_MATTERED_W: Final = 150.0
_SUN_SHARE: Final = 0.4
_SUN_GONE: Final = 0.3
_SUN_MEMORY_S: Final = 1200.0
_LONG_ENOUGH_S: Final = 600.0
"""A kettle is done before anybody could wait for the sun."""


class SunWatch:
    """Says when the sun has gone that carried the cooking."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._bright_w = 0.0
        self._bright_s: float | None = None
        self._last_s: float | None = None
        self._cooking_since_s: float | None = None
        self._episode = Episode(180.0, 300.0, 3600.0)

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        live, at_s = facts.live, facts.at_s
        names = running_names(facts)
        solar_w, load_w = live.solar_w, live.load_w
        if not names or solar_w is None or load_w is None:
            self._bright_w, self._bright_s = 0.0, None
            self._cooking_since_s = None
            self._episode.observe(at_s, condition=False)
            self._last_s = at_s
            return []
        if self._cooking_since_s is None:
            self._cooking_since_s = at_s
        self._follow(at_s, solar_w, load_w)
        gone = (
            self._bright_s is not None
            and at_s - self._cooking_since_s >= _LONG_ENOUGH_S
            and at_s - self._bright_s <= _SUN_MEMORY_S
            and solar_w < _SUN_GONE * self._bright_w
            and live.battery_w is not None
            and live.battery_w < 0
        )
        if not self._episode.observe(at_s, gone):
            return []
        return [
            Occurrence(
                OccurrenceKind.SUN_GONE,
                "",
                self._episode.key,
                self._episode.start_s,
                1.0,
                {"names": names, "solar_w": solar_w, "before_w": self._bright_w},
            )
        ]

    def _follow(self, at_s: float, solar_w: float, load_w: float) -> None:
        """Keep a slow mean of the sun while it carries a good part of the load."""
        seconds = (
            0.0 if self._last_s is None else min(max(at_s - self._last_s, 0.0), 60.0)
        )
        self._last_s = at_s
        if solar_w < _SUN_MATTERED_W or solar_w < _SUN_SHARE * load_w:
            return
        if solar_w < 0.7 * self._bright_w:
            return
        share = min(seconds / 120.0, 1.0) if self._bright_w else 1.0
        self._bright_w += share * (solar_w - self._bright_w)
        self._bright_s = at_s

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {
            "bright_w": self._bright_w,
            "bright_s": self._bright_s,
            "last_s": self._last_s,
            "cooking_since_s": self._cooking_since_s,
            "episode": self._episode.snapshot(),
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._bright_w, self._bright_s = state["bright_w"], state["bright_s"]
        self._last_s = state["last_s"]
        self._cooking_since_s = state["cooking_since_s"]
        self._episode.restore(state["episode"])
