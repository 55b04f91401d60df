"""Inverter, breakers and bank current against what is drawn now."""

from collections.abc import Mapping
from typing import Any, Final

from ..boat.boat import Boat, Supply
from .episode import Episode, restore_all, snapshot_all
from .facts import Facts
from .occurrence import Occurrence, OccurrenceKind

_NEAR: Final = 0.9
_ALONE: Final = 1.0
"""An appliance that runs alone is expected to come close to a limit; not to exceed it."""
_CLEAR: Final = 0.85

INVERTER: Final = "inverter"
BANK: Final = "bank"
BREAKER: Final = "breaker"
"""Variants: which limit is near."""


class LoadLimits:
    """Says which limit is near."""

    def __init__(self, boat: Boat) -> None:
        """Know the boat's limits."""
        self._boat = boat
        self._over: set[str] = set()
        names = [INVERTER, BANK, *(f"{BREAKER} {c.name}" for c in boat.circuits)]
        self._episodes = {name: Episode(8.0, 120.0, 1800.0) for name in names}

    def observe(self, facts: Facts) -> list[Occurrence]:
        """Take a moment; return what has occurred and still matters."""
        powers_w = {
            now.name: now.power_w for now in facts.live.appliances if now.running
        }
        return [
            *self._inverter(facts, powers_w),
            *self._bank(facts, powers_w),
            *self._breakers(facts, powers_w),
        ]

    def _inverter(
        self, facts: Facts, powers_w: Mapping[str, float]
    ) -> list[Occurrence]:
        inverter = self._boat.inverter
        if inverter is None or facts.live.load_w is None:
            return []
        used_w = self._inverter_w(facts, powers_w)
        on_ac = {n: w for n, w in powers_w.items() if self._on_ac(n)}
        limit_w = inverter.continuous_power_w
        return self._judge(facts, INVERTER, "", used_w, limit_w, on_ac, 1.0)

    def _bank(self, facts: Facts, powers_w: Mapping[str, float]) -> list[Occurrence]:
        limit_a = self._boat.bank.max_discharge_current_a
        if limit_a is None or facts.discharge_a is None:
            return []
        volts = facts.live.voltage_v or self._boat.bank.nominal_voltage_v
        per_watt = 1.0 / (volts * self._boat.conversion)
        used_a = max(facts.discharge_a, 0.0)
        return self._judge(facts, BANK, "", used_a, limit_a, powers_w, per_watt)

    def _breakers(
        self, facts: Facts, powers_w: Mapping[str, float]
    ) -> list[Occurrence]:
        occurrences: list[Occurrence] = []
        for circuit in self._boat.circuits:
            here = {
                name: power_w
                for name, power_w in powers_w.items()
                if self._boat.appliance(name).circuit == circuit.name
            }
            used_a = sum(here.values()) / circuit.voltage_v
            limit_a, per_watt = circuit.breaker_current_a, 1.0 / circuit.voltage_v
            occurrences += self._judge(
                facts, BREAKER, circuit.name, used_a, limit_a, here, per_watt
            )
        return occurrences

    def _on_ac(self, name: str) -> bool:
        return self._boat.appliance(name).supply is Supply.AC

    def _inverter_w(self, facts: Facts, powers_w: Mapping[str, float]) -> float:
        live = facts.live
        if self._boat.sensors.ac_load_power is None:
            # The load is seen on the bank's side only; the rest of it is not the inverter's.
            on_ac_w = sum(w for name, w in powers_w.items() if self._on_ac(name))
            return on_ac_w + (live.unassigned_w or 0.0)
        on_dc_w = sum(w for name, w in powers_w.items() if not self._on_ac(name))
        return max((live.load_w or 0.0) - on_dc_w, 0.0)

    def _judge(
        self,
        facts: Facts,
        variant: str,
        circuit: str,
        used: float,
        limit: float,
        running_w: Mapping[str, float],
        per_watt: float,
    ) -> list[Occurrence]:
        """Return the occurrence of one limit; `per_watt` turns W into its unit."""
        name = f"{variant} {circuit}" if circuit else variant
        near = (_NEAR if len(running_w) > 1 else _ALONE) * limit
        condition = used >= near or (name in self._over and used >= _CLEAR * limit)
        condition = condition and bool(running_w)
        if condition:
            self._over.add(name)
        else:
            self._over.discard(name)
        episode = self._episodes[name]
        if not episode.observe(facts.at_s, condition):
            return []
        draws = {name: power_w * per_watt for name, power_w in running_w.items()}
        return [
            Occurrence(
                OccurrenceKind.OVERLOAD_NEAR,
                name,
                episode.key,
                episode.start_s,
                self._certainty(facts, variant, running_w),
                {
                    "used": used,
                    "limit": limit,
                    "unit": "W" if variant == INVERTER else "A",
                    "circuit": circuit or None,
                    "stop": best_to_stop(draws, used - _CLEAR * limit),
                    "load_w": facts.live.load_w,
                },
                variant,
            )
        ]

    def _certainty(
        self, facts: Facts, variant: str, running_w: Mapping[str, float]
    ) -> float:
        """Return how sure it is: what is measured is; a breaker's load is inferred."""
        if variant != BREAKER:
            return 1.0
        return min(
            (facts.live.appliance(name).confidence for name in running_w), default=0.0
        )

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {"over": sorted(self._over), "episodes": snapshot_all(self._episodes)}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._over = set(state["over"]) & set(self._episodes)
        restore_all(self._episodes, state["episodes"])


def best_to_stop(draws: Mapping[str, float], too_much: float) -> str | None:
    """Return the smallest draw that is enough to stop, else the largest, None if none."""
    enough = [(draw, name) for name, draw in draws.items() if draw >= too_much]
    if enough:
        return min(enough)[1]
    return max(((draw, name) for name, draw in draws.items()), default=(0.0, None))[1]
