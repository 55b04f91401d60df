"""The words in which a kind of appliance is described: states, draws, dwell times."""

from dataclasses import dataclass, field
from typing import Final

from .traits import Traits

OFF: Final = "off"


@dataclass(frozen=True, slots=True)
class Full:
    """The appliance's full power: its rating, known to a tenth and learnt closer."""

    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Level:
    """Any power between two shares of the rating."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Small:
    """A small draw between two powers in W: a fan, a lamp, electronics, or nothing."""

    low_w: float
    high_w: float


type Draw = Full | Level | Small


@dataclass(frozen=True, slots=True)
class State:
    """One thing that an appliance does.

    `dwell_s` is the range that holds eight of ten dwell times. `follows` gives what comes next
    with its chance (`OFF` ends the run). `like` names the state whose last draw within
    the run this one comes back to, itself where empty (a thermostat's heater, a pulsed
    level, the level before a pan was lifted); `fresh` says that the draw is new at every
    visit; `fades` that it slides while the state lasts; `alike` that its dwells within one
    run are of nearly one length, whatever that length is (a thermostat's cycles, the pulses
    of a regulator). `duty_cycle` holds eight in ten of the shares of the time that such dwells
    take of themselves and the pauses between them: what holds a heat needs about that much
    of the power, whatever the regulator's period.
    """

    draw: Draw
    dwell_s: tuple[float, float]
    follows: dict[str, float]
    holding: bool = False
    like: str = ""
    fresh: bool = False
    fades: bool = False
    alike: bool = False
    duty_cycle: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Description:
    """How one kind behaves and, in `traits`, what may be done and said about it.

    `name` is the kind's word in a boat file, empty for what is no kind that a file may name.
    `starts` gives the states in which a run may begin, with their chances.
    `run_s` holds eight in ten whole runs; `restless_s` is how long somebody leaves it at
    one setting on average, 0 where nothing is ever set.
    `least_run_s` is what no run of the kind is shorter than: shorter ones were others.
    `least_heat_s` is the time at full power whose energy none does with less than: no
    pressure is reached in two minutes. `untouched_s` is how long a run draws one power at the most,
    levels below a third of a plate left aside, 0 where nothing limits it.
    `zone_w` is the most that one of several plates draws, 0 where there are none: a higher
    rating is that of all together, and one of them alone is turned down to a share of its own.
    `wander` is by how much of itself a steady draw strays within a minute or two.
    `runs_per_day` is the expected number on a day aboard, `heat_up_minutes` and
    `holding_share` give the typical draw of a dish, `standby_w` the draw of a live, idle
    appliance.
    """

    states: dict[str, State]
    starts: dict[str, float]
    run_s: tuple[float, float]
    runs_per_day: float
    heat_up_minutes: float
    holding_share: float
    standby_w: float = 0.0
    restless_s: float = 0.0
    zone_w: float = 0.0
    wander: float = 0.004
    least_run_s: float = 18.0
    least_heat_s: float = 0.0
    untouched_s: float = 0.0
    name: str = ""
    traits: Traits = field(default_factory=Traits)

    @property
    def typical_share(self) -> float:
        """Mean share of the rated power over half an hour of use."""
        heating = min(30.0, self.heat_up_minutes)
        return (heating + (30.0 - heating) * self.holding_share) / 30.0
