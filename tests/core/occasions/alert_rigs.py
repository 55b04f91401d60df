"""A boat whose present the test decides, and what is said about it."""

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import time
import json
from typing import Any
from zoneinfo import ZoneInfo

from custom_components.galley_loads.core.boat.boat import Appliance, Boat, Supply
from custom_components.galley_loads.core.boat.quiet_hours import QuietHours
from custom_components.galley_loads.core.cutting import Ask
from custom_components.galley_loads.core.cutting.questions import Question
from custom_components.galley_loads.core.inference.model.activity import Run
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_view import (
    ApplianceNow,
    ApplianceState,
    LiveView,
)
from custom_components.galley_loads.core.meals.meal_builder import Meal
from custom_components.galley_loads.core.occasions.facts import Facts
from custom_components.galley_loads.core.occasions.message_filter import (
    MESSAGE_KINDS,
    Clear,
    Message,
    MessageFilter,
    Say,
)
from custom_components.galley_loads.core.occasions.night import NightOutlook
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.occasions.occurrence_watch import (
    OccurrenceWatch,
)
from custom_components.galley_loads.language.alert_texts import words
from custom_components.galley_loads.language.speech import english
from tests.core.rigs import NOON_S, galley_boat

HEATING, HOLDING = ApplianceState.HEATING, ApplianceState.HOLDING
MINUTE, HOUR = 60.0, 3600.0

FLEET = (
    Appliance("Hob", catalogue.INDUCTION_HOB, 1800, circuit="Galley 1"),
    Appliance("Kettle", catalogue.KETTLE, 2000, circuit="Galley 2"),
    Appliance("Oven", catalogue.OVEN, 1500, circuit="Galley 1"),
    Appliance("Bath", catalogue.WATER_BATH, 1000, circuit="Galley 2"),
    Appliance("Rice cooker", catalogue.RICE_COOKER, 500, circuit="Galley 2"),
    Appliance("Bread maker", catalogue.BREAD_MAKER, 650, circuit="Galley 2"),
    Appliance("Cool pan", catalogue.OTHER, 300, supply=Supply.DC),
)
AZORES = ZoneInfo("Atlantic/Azores")
QUIET = QuietHours(time(22), time(7))


def fleet_boat(max_discharge_current_a: float = 400) -> Boat:
    boat = galley_boat(appliances=FLEET)
    bank = replace(boat.bank, max_discharge_current_a=max_discharge_current_a)
    return replace(boat, bank=bank)


@dataclass
class Watch:
    """A boat whose present the test decides, and what is said about it."""

    boat: Boat = field(default_factory=fleet_boat)
    quiet_hours: QuietHours | None = None
    at_s: float = NOON_S
    on: dict[str, tuple[float, ApplianceState]] = field(default_factory=dict)
    starts: dict[str, float] = field(default_factory=dict)
    used_wh: dict[str, float] = field(default_factory=dict)
    confidence: float = 0.9
    measured: bool = True
    solar_w: float | None = 0.0
    unnamed_w: float = 0.0
    soc: float | None = 70.0
    night: NightOutlook | None = None
    idle_since_s: dict[str, float] = field(default_factory=dict)
    standby_w: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin to watch."""
        self.alerts = OccurrenceWatch(self.boat)
        self.messages = self.choose(frozenset(MESSAGE_KINDS))

    def choose(self, kinds: Collection[OccurrenceKind]) -> MessageFilter:
        """Send messages of these kinds from now on."""
        self.messages = MessageFilter(self.boat.time_zone, kinds, self.quiet_hours)
        return self.messages

    def facts(self) -> Facts:
        """Return the present."""
        for name in self.on:
            self.starts.setdefault(name, self.at_s)
        for name in set(self.starts) - set(self.on):
            del self.starts[name]
        appliances = tuple(
            ApplianceNow(
                a.name,
                self.on[a.name][1] if a.name in self.on else ApplianceState.OFF,
                self.on.get(a.name, (0.0,))[0],
                self.starts.get(a.name),
                self.used_wh.get(a.name, 0.0),
                confidence=self.confidence,
            )
            for a in self.boat.appliances
        )
        running_w = sum(power_w for power_w, _ in self.on.values())
        load_w = 120.0 + running_w + self.unnamed_w if self.measured else None
        discharge_w = ((load_w or 0.0) / 0.9) - (self.solar_w or 0.0)
        live = LiveView(
            self.at_s, load_w, running_w, 120.0, self.unnamed_w, 0.0, self.solar_w,
            -discharge_w, 12.8, self.soc, appliances, None, None,
        )  # fmt: skip
        return Facts(
            self.at_s,
            live,
            discharge_w / 12.8,
            self.night,
            idle_since_s=self.idle_since_s,
            standby_w=self.standby_w,
        )

    def pass_time(self, seconds: float, step_s: float = 10.0) -> list[Message]:
        """Let time pass; return what was said meanwhile."""
        said: list[Message] = []
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            said += self.messages.observe(self.at_s, self.alerts.observe(self.facts()))
            self.at_s += step_s
        return said

    def restart(self) -> None:
        """Save everything, start anew, and take it up again."""
        saved = json.loads(json.dumps(self.alerts.snapshot()))
        sent = json.loads(json.dumps(self.messages.snapshot()))
        self.__post_init__()
        self.alerts.restore(saved)
        self.messages.restore(sent)


@dataclass(frozen=True)
class Said:
    """A message to a person, with its words."""

    tag: str
    kind: OccurrenceKind
    subject: str
    title: str
    message: str
    urgent: bool
    token: str | None


def says(messages: list[Message], kind: OccurrenceKind | None = None) -> list[Said]:
    return [
        Said(
            m.tag,
            m.kind,
            m.subject,
            *words(m.occurrence, english(AZORES)),
            m.urgent,
            m.token,
        )
        for m in messages
        if isinstance(m, Say) and (kind is None or m.kind is kind)
    ]


def clears(messages: list[Message]) -> list[str]:
    return [m.tag for m in messages if isinstance(m, Clear)]


def ask(at_s: float) -> Ask:
    question = Question("t1", "Galley 1", at_s, at_s + 2 * HOUR)
    return Ask("Galley 1", at_s, question, 20.0, at_s - 600)


def meal(**changes: Any) -> Meal:
    dinner = Meal(
        NOON_S - HOUR,
        NOON_S,
        "dinner",
        ("Hob",),
        250,
        21.0,
        12.0,
        15.0,
        0.4,
        80,
        76,
        (run_of("Hob", 60),),
    )
    return replace(dinner, **changes)


def run_of(name: str, minutes: float, end_s: float = NOON_S) -> Run:
    return Run(name, end_s - 60 * minutes, end_s, 500, 1400, 0.9, ())
