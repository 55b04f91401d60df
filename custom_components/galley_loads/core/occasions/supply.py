"""Alerts about what feeds the galley: limits, sun, the night ahead, and the meters."""

from collections.abc import Mapping
from typing import Any, Final

from ..advice.words import clock
from ..boat.boat import Boat, Supply
from . import texts
from .episode import Episode, restore_all, snapshot_all
from .facts import Facts
from .night import NightOutlook
from .occasion import AlertKind, Occasion

_NEAR: Final = 0.9
_ALONE: Final = 1.0
"""An appliance that runs alone is expected to come close to a limit; not to exceed it."""
_CLEAR: Final = 0.85
_RISKY: Final = 0.6
_SAFE: Final = 0.4
_SUN_MATTERED_W: Final = 150.0
_SUN_SHARE: Final = 0.4
_SUN_GONE: Final = 0.3
_SUN_MEMORY_S: Final = 1200.0
_LONG_ENOUGH_S: Final = 600.0
"""A kettle is done before anybody could wait for the sun."""
_COOKED_LATELY_S: Final = 120.0


def running_names(facts: Facts) -> list[str]:
    """Return the appliances that run, the largest draw first."""
    running = [now for now in facts.live.appliances if now.running]
    return [now.name for now in sorted(running, key=lambda now: -now.power_w)]


class Limits:
    """Inverter, breakers and bank current against what is drawn now."""

    def __init__(self, boat: Boat) -> None:
        """Know the boat's limits."""
        self._boat = boat
        self._over: set[str] = set()
        names = ["inverter", "bank", *(f"breaker {c.name}" for c in boat.circuits)]
        self._episodes = {name: Episode(8.0, 120.0, 1800.0) for name in names}

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasions that stand."""
        powers_w = {
            now.name: now.power_w for now in facts.live.appliances if now.running
        }
        occasions: list[Occasion] = []
        on_ac = {n: w for n, w in powers_w.items() if self._on_ac(n)}
        if self._boat.inverter is not None and facts.live.load_w is not None:
            used_w = self._inverter_w(facts, powers_w)
            occasions += self._judge(
                "inverter",
                "The inverter",
                used_w,
                self._boat.inverter.continuous_power_w,
                "W",
                on_ac,
                1.0,
                facts.at_s,
            )
        limit_a = self._boat.bank.max_discharge_current_a
        if limit_a is not None and facts.discharge_a is not None:
            volts = facts.live.voltage_v or self._boat.bank.nominal_voltage_v
            occasions += self._judge(
                "bank",
                "The bank's current",
                max(facts.discharge_a, 0.0),
                limit_a,
                "A",
                powers_w,
                1.0 / (volts * self._boat.conversion),
                facts.at_s,
            )
        for circuit in self._boat.circuits:
            here = {
                name: power_w
                for name, power_w in powers_w.items()
                if self._boat.appliance(name).circuit == circuit.name
            }
            occasions += self._judge(
                f"breaker {circuit.name}",
                f"The breaker of {texts.plain(circuit.name)}",
                sum(here.values()) / circuit.voltage_v,
                circuit.breaker_current_a,
                "A",
                here,
                1.0 / circuit.voltage_v,
                facts.at_s,
            )
        return occasions

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
        name: str,
        what: str,
        used: float,
        limit: float,
        unit: str,
        running_w: Mapping[str, float],
        per_watt: float,
        at_s: float,
    ) -> list[Occasion]:
        """Return the occasion of one limit; `per_watt` turns W into its unit."""
        near = (_NEAR if len(running_w) > 1 else _ALONE) * limit
        condition = used >= near or (name in self._over and used >= _CLEAR * limit)
        condition = condition and bool(running_w)
        if condition:
            self._over.add(name)
        else:
            self._over.discard(name)
        episode = self._episodes[name]
        if not episode.observe(at_s, condition):
            return []
        spare = used - _CLEAR * limit
        text = texts.overload_near(
            what,
            f"{used:,.0f} {unit}",
            f"{limit:,.0f} {unit}",
            best_to_stop({n: w * per_watt for n, w in running_w.items()}, spare),
        )
        return [Occasion(AlertKind.OVERLOAD_NEAR, name, episode.key, *text)]

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


class Night:
    """The reserve before dawn, while somebody cooks."""

    def __init__(self, boat: Boat) -> None:
        """Know the reserve."""
        self._boat = boat
        self._at_risk = False
        self._episode = Episode(60.0, 600.0, 6 * 3600.0)

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasion if it stands."""
        night = facts.night
        names = running_names(facts)
        if night is None or not names:
            self._at_risk = False
        else:
            limit = _SAFE if self._at_risk else _RISKY
            self._at_risk = night.chance_below >= limit and not self._is_below(facts)
        if not self._episode.observe(facts.at_s, self._at_risk) or night is None:
            return []
        text = self._text(night, names, facts.at_s)
        return [Occasion(AlertKind.RESERVE_AT_RISK, "", self._episode.key, *text)]

    def _is_below(self, facts: Facts) -> bool:
        """Return whether the reserve is used already: nothing is at risk any more."""
        soc = facts.live.soc
        return soc is not None and soc < self._boat.bank.reserve_soc

    def _text(self, night: NightOutlook, names: list[str], at_s: float) -> texts.Text:
        when = clock(night.lowest_at_s, at_s, self._boat.time_zone)
        reserve = self._boat.bank.reserve_soc
        return texts.reserve_at_risk(names, night.lowest_soc, when, reserve)

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {"at_risk": self._at_risk, "episode": self._episode.snapshot()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._at_risk = state["at_risk"]
        self._episode.restore(state["episode"])


class Sun:
    """The sun that goes away while it carries the cooking."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._bright_w = 0.0
        self._bright_s: float | None = None
        self._last_s: float | None = None
        self._cooking_since_s: float | None = None
        self._episode = Episode(180.0, 300.0, 3600.0)

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasion if it stands."""
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
        text = texts.sun_gone(names, solar_w, self._bright_w)
        return [Occasion(AlertKind.SUN_GONE, "", self._episode.key, *text)]

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


class Meters:
    """A load that is no longer measured while something was on."""

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._running: list[str] = []
        self._running_s: float | None = None
        self._lost_s: float | None = None
        self._episode = Episode(60.0, 5.0, 600.0)

    def observe(self, facts: Facts) -> list[Occasion]:
        """Take a moment; return the occasion if it stands."""
        at_s = facts.at_s
        lost = facts.live.load_w is None
        if not lost:
            self._lost_s = None
            self._running = running_names(facts)
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
        text = texts.readings_lost(self._running, at_s - self._lost_s)
        return [Occasion(AlertKind.READINGS_LOST, "", self._episode.key, *text)]

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
