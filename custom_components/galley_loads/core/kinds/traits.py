"""What may be done and said about a kind of appliance: the traits of its description.

Where no source stands beside a number it is common practice, no source.
"""

from dataclasses import dataclass
from enum import StrEnum


class MayCut(StrEnum):
    """Whether an idle appliance of a kind may lose its supply."""

    BY_ITSELF = "by_itself"
    ONLY_ASKED = "only_asked"
    NEVER = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """What the parts of the boat that cut, announce and show ask of a kind.

    `icon` is shown for it. `cooking` says whether a run belongs to a meal, `hot_water` that
    it heats water to wash with, `hot_drink` that a run alone is called a hot drink.

    `may_cut` says whether an idle circuit with one of them may be cut; where it may never
    be, `never_cut_because` is the word of the reason (one of the reasons of
    `core/cutting`). `cool_down_s` is how long a fan needs after a run, s.

    `quiet_s` is how long it may draw no more than when it is off in the middle of what it
    does, s. `quiet_w` is the least that it draws for hours while it works (it holds, rises,
    keeps warm), where that may hide among lamps and pumps; 0 where its work shows in the
    boat's load.

    `longest_minutes` is the longest usual run where no habit is known yet, and
    `least_limit_minutes` how long a run goes on at least before it counts as left running,
    whatever the habit. `longest_rest_s` is how long it draws nothing within a run, s.

    `ends_by_itself` says that it ends while nobody stands by, so that its end is announced
    to people: a kettle clicks, coffee smells and a microwave beeps; a hob is turned off by
    the cook, who knows. A run shorter than `least_done_minutes` has then not cooked
    anything. `done_when_warm` says that what it makes is done once it keeps warm.
    `reaches_temperature` says that it is waited for to be hot, which is announced.
    `timed` says that a timer may wait for its heat. `any_power` says that it may draw
    anything up to its rating, so that no other one is of like power.
    """

    icon: str = "mdi:power-plug"
    cooking: bool = True
    hot_water: bool = False
    hot_drink: bool = False
    may_cut: MayCut = MayCut.BY_ITSELF
    never_cut_because: str = ""
    cool_down_s: float = 0.0
    quiet_s: float = 0.0
    quiet_w: float = 0.0
    longest_minutes: float = 360.0
    least_limit_minutes: float = 60.0
    longest_rest_s: float = 90.0
    ends_by_itself: bool = False
    least_done_minutes: float = 0.0
    done_when_warm: bool = False
    reaches_temperature: bool = False
    timed: bool = False
    any_power: bool = False
