"""The reserve before dawn, while somebody cooks."""

from collections.abc import Mapping
from typing import Any, Final

from ..boat.boat import Boat
from .episode import Episode
from .facts import Facts, running_names
from .occurrence import Occurrence, OccurrenceKind

_RISKY: Final = 0.6
_SAFE: Final = 0.4


class ReserveWatch:
    """Says when the bank may not keep its reserve until the morning."""

    def __init__(self, boat: Boat) -> None:
        """Know the reserve."""
        self._boat = boat
        self._at_risk = False
        self._episode = Episode(60.0, 600.0, 6 * 3600.0)

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        night = facts.night
        names = running_names(facts)
        if night is None or not names:
            self._at_risk = False
        else:
            limit = _SAFE if self._at_risk else _RISKY
            self._at_risk = night.chance_below >= limit and not self._is_below(facts)
        if not self._episode.observe(facts.at_s, self._at_risk) or night is None:
            return []
        return [
            Occurrence(
                OccurrenceKind.RESERVE_AT_RISK,
                "",
                self._episode.key,
                self._episode.start_s,
                night.chance_below,
                {
                    "names": names,
                    "lowest_soc": max(night.lowest_soc, 0.0),
                    "lowest_at_s": night.lowest_at_s,
                    "chance": night.chance_below,
                    "reserve_soc": self._boat.bank.reserve_soc,
                    "seen_s": facts.at_s,
                },
            )
        ]

    def _is_below(self, facts: Facts) -> bool:
        """Return whether the reserve is used already: nothing is at risk any more."""
        soc = facts.live.soc
        return soc is not None and soc < self._boat.bank.reserve_soc

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {"at_risk": self._at_risk, "episode": self._episode.snapshot()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._at_risk = state["at_risk"]
        self._episode.restore(state["episode"])
