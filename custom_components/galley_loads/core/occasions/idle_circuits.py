"""News of circuits on which nobody cooks any more and which draw on."""

from typing import Final

from ..boat.boat import Boat, Circuit
from ..live.live_view import ApplianceState, LiveView
from .news_item import News, NewsKind

WORTH_TELLING_W: Final = 5.0
NO_RELAY_IDLE_S: Final = 3600.0
"""Somebody has to get up for a circuit without a relay: told after an hour at the least."""


class IdleCircuits:
    """Tells once per idle time that a circuit was left on."""

    def __init__(self, boat: Boat) -> None:
        """Know the circuits and what hangs on them."""
        self._members = {
            circuit: [a.name for a in boat.appliances if a.circuit == circuit.name]
            for circuit in boat.circuits
        }
        self._idle_since_s: dict[str, float] = {}
        self._told: set[str] = set()

    def observe(self, at_s: float, live: LiveView) -> list[News]:
        """Take a moment; return what is new in it."""
        if live.load_w is None:
            return []
        news: list[News] = []
        for circuit, members in self._members.items():
            now = [live.appliance(name) for name in members]
            if any(one.perhaps_running for one in now):
                self._idle_since_s.pop(circuit.name, None)
                self._told.discard(circuit.name)
                continue
            since_s = self._idle_since_s.setdefault(circuit.name, at_s)
            standby_w = sum(
                one.power_w for one in now if one.state is ApplianceState.STANDBY
            )
            if standby_w < WORTH_TELLING_W or circuit.name in self._told:
                continue
            idle_s = at_s - since_s
            if idle_s >= _patience_s(circuit):
                self._told.add(circuit.name)
                details = {
                    "idle_minutes": round(idle_s / 60.0, 1),
                    "standby_w": round(standby_w, 1),
                }
                news.append(News(NewsKind.STANDBY_LEFT_ON, circuit.name, at_s, details))
        return news


def _patience_s(circuit: Circuit) -> float:
    idle_s = 60.0 * circuit.idle_minutes
    return idle_s if circuit.relay else max(idle_s, NO_RELAY_IDLE_S)
