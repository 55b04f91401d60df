"""What is looked at: one moment of the boat."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..boat.boat import Boat
from ..cutting import CutFacts
from ..live.live_view import LiveView
from .night import NightOutlook


@dataclass(frozen=True, slots=True)
class Facts:
    """One moment of the boat.

    `discharge_a` is the current out of the bank (negative while charging). `night` is how
    the charge is expected to go until dawn. `idle_since_s` says since when circuits have
    been idle, `standby_w` what is known of their standby, `relay_closed` how their relays
    stand (None where nobody knows).
    """

    at_s: float
    live: LiveView
    discharge_a: float | None = None
    night: NightOutlook | None = None
    idle_since_s: Mapping[str, float | None] = field(default_factory=dict)
    standby_w: Mapping[str, float | None] = field(default_factory=dict)
    relay_closed: Mapping[str, bool | None] = field(default_factory=dict)


def facts_of(
    boat: Boat,
    moment: CutFacts,
    idle_since_s: Mapping[str, float | None],
    night: NightOutlook | None,
) -> Facts:
    """Return the same moment that the rules of cutting look at, by circuits' names."""
    sample = moment.sample
    discharge_a = None if sample.battery_a is None else -sample.battery_a
    if discharge_a is None and sample.battery_w is not None:
        volts = sample.voltage_v or boat.bank.nominal_voltage_v
        discharge_a = -sample.battery_w / volts
    return Facts(
        moment.at_s,
        moment.live,
        discharge_a,
        night,
        idle_since_s,
        moment.standby_w,
        moment.relay_closed,
    )


def running_names(facts: Facts) -> tuple[str, ...]:
    """Return the appliances that run, the largest draw first."""
    running = [now for now in facts.live.appliances if now.running]
    return tuple(now.name for now in sorted(running, key=lambda now: -now.power_w))
