"""A small galley whose true state the test decides: loads, relays, runs, meters."""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
import json
from random import Random
from typing import Final
from zoneinfo import ZoneInfo

from custom_components.galley_loads.core.boat.boat import (
    Appliance,
    Bank,
    Boat,
    Circuit,
    CutRule,
    Inverter,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.boat.quiet_hours import QuietHours
from custom_components.galley_loads.core.cutting import (
    Answer,
    Ask,
    Cut,
    CutFacts,
    CuttingRules,
    Outcome,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_view import (
    ApplianceNow,
    ApplianceState,
    LiveView,
)
from custom_components.galley_loads.core.metering.clock_steps import ClockSet
from custom_components.galley_loads.core.metering.load_sample import LoadSample

NOON_S = 1_779_019_200.0
"""2026-05-17 12:00 UTC."""

HOUR: Final = 3600.0

HOB = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
KETTLE = Appliance("Kettle", catalogue.KETTLE, 2000, circuit="Galley 2")


def galley_boat(
    *,
    appliances: tuple[Appliance, ...] = (HOB, KETTLE),
    cut: CutRule = CutRule.AUTO,
    other_loads: bool = False,
    idle_minutes: float = 10,
    relay: str | None = "switch.galley_1",
    second_relay: str | None = None,
) -> Boat:
    """Return a boat with a hob on a circuit that may be cut and a kettle on another."""
    return Boat(
        name="Tern",
        latitude=38.53,
        longitude=-28.62,
        time_zone=ZoneInfo("Atlantic/Azores"),
        sensors=Sensors(ac_load_power=Sensor("sensor.load")),
        bank=Bank(
            capacity_ah=560,
            nominal_voltage_v=12.8,
            reserve_soc=35,
            max_discharge_current_a=200,
        ),
        inverter=Inverter(continuous_power_w=2500, efficiency=0.9),
        appliances=appliances,
        circuits=(
            Circuit("Galley 1", 15, 120, relay, idle_minutes, cut, other_loads),
            Circuit("Galley 2", 20, 120, second_relay),
        ),
    )


def counted_tokens() -> Callable[[], str]:
    """Return tokens that a test can tell apart."""
    numbers = count(1)
    return lambda: f"token-{next(numbers)}"


@dataclass
class Galley:
    """The boat's truth, and the rules that look at it every few seconds."""

    boat: Boat
    quiet_hours: QuietHours | None = None
    cut_in_quiet_hours: bool = True
    at_s: float = NOON_S
    rest_w: float | None = 110.0
    standby_w: float = 20.0
    standby_known: bool = True
    likely_w: float = 20.0
    running: dict[str, float] = field(default_factory=dict)
    silent: set[str] = field(default_factory=set)
    hidden_w: float = 0.0
    unnamed_w: float = 0.0
    metered_w: dict[str, float | None] = field(default_factory=dict)
    closed: bool | None = True
    obeys: bool = True
    welded: bool = False
    load_age_s: float | None = 1.0
    meter_age_s: float | None = 30.0
    bank_w: float | None = None
    outcomes: list[Outcome] = field(default_factory=list)
    clock_set: ClockSet | None = None
    engine_off_s: float = 0.0

    def __post_init__(self) -> None:
        """Set up the rules."""
        self.random = Random(7)
        self.tokens = counted_tokens()
        self.rules = self.new_rules()
        self._run_starts: dict[str, float] = {}

    def new_rules(self) -> CuttingRules:
        """Return rules without a past."""
        return CuttingRules(
            self.boat,
            self.tokens,
            self.quiet_hours,
            cut_in_quiet_hours=self.cut_in_quiet_hours,
        )

    def load_w(self) -> float | None:
        """Return what the boat's meter shows."""
        if self.rest_w is None:
            return None
        standby_w = self.standby_w if self.closed or self.welded else 0.0
        cooking_w = sum(self.running.values())
        return round(
            self.rest_w
            + standby_w
            + cooking_w
            + self.hidden_w
            + self.random.gauss(0, 0.7)
        )

    def moment(self) -> CutFacts:
        """Return what is known now."""
        load_w = self.load_w()
        names = set(self.running)
        for name in names - set(self._run_starts):
            self._run_starts[name] = self.at_s
        for name in set(self._run_starts) - names:
            del self._run_starts[name]
        appliances = tuple(
            ApplianceNow(
                a.name,
                ApplianceState.HEATING if a.name in names else ApplianceState.STANDBY,
                self.running.get(a.name, 0.0),
                self._run_starts.get(a.name),
                confidence=0.9,
                may_resume=a.name in self.silent,
            )
            for a in self.boat.appliances
        )
        live = LiveView(
            self.at_s + self.engine_off_s, load_w, sum(self.running.values()), self.rest_w,
            self.unnamed_w, 0.0, None,
            None, None, None, appliances, None, None, clock_set=self.clock_set,
        )  # fmt: skip
        sample = LoadSample(
            self.at_s,
            load_w,
            solar_w=None if self.bank_w is None else 0.0,
            battery_w=None if self.bank_w is None else -self.bank_w,
            metered_w=tuple(self.metered_w.items()),
            open_circuits=frozenset({"Galley 1"} if self.closed is False else ()),
        )
        return CutFacts(
            self.at_s,
            sample,
            live,
            self.load_age_s,
            {c.name: self.closed for c in self.boat.circuits if c.relay},
            dict.fromkeys(self.metered_w, self.meter_age_s),
            {"Galley 1": self.standby_w if self.standby_known else None},
            floor_w=1.5,
            likely_w={"Galley 1": self.likely_w},
        )

    def follow(self, outcomes: list[Outcome]) -> list[Outcome]:
        """Let the relay do what the rules say."""
        self.outcomes += outcomes
        if any(isinstance(outcome, Cut) for outcome in outcomes) and self.obeys:
            self.closed = False
        return outcomes

    def pass_time(self, seconds: float, *, step_s: float = 5.0) -> list[Outcome]:
        """Let time pass; return what the rules said meanwhile."""
        said: list[Outcome] = []
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            said += self.follow(self.rules.observe(self.moment()))
            self.at_s += step_s
        return said

    def answer(self, token: str, answer: Answer) -> list[Outcome]:
        """Answer a question."""
        return self.follow(self.rules.answer(token, answer, self.moment()))

    def question(self) -> Ask:
        """Return the only question asked so far."""
        (ask,) = (outcome for outcome in self.outcomes if isinstance(outcome, Ask))
        return ask


def only[T](kind: type[T], outcomes: list[Outcome]) -> list[T]:
    """Return the outcomes of one kind."""
    return [outcome for outcome in outcomes if isinstance(outcome, kind)]


def cooked_once(galley: Galley) -> Galley:
    """Let the boat be known at rest, then cook on the hob for twenty minutes."""
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 1.5 * HOUR)
    galley.pass_time(HOUR)
    galley.running["Hob"] = 1400
    galley.pass_time(20 * 60)
    galley.running.clear()
    galley.outcomes.clear()
    return galley


def asking(galley: Galley) -> Galley:
    """Let the rules ask their question."""
    cooked_once(galley)
    galley.pass_time(HOUR)
    galley.question()
    return galley


def restarted(galley: Galley, boat: Boat | None = None) -> Galley:
    """Save the rules, make new ones, and give them the saved state."""
    saved = json.loads(json.dumps(galley.rules.snapshot()))
    galley.boat = boat or galley.boat
    galley.rules = galley.new_rules()
    galley.rules.restore(saved)
    return galley
