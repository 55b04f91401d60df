"""What goes on for hours at a draw that hides among lamps and pumps.

A water bath holds its heat at 40 W, a slow cooker stands at 14 W, rice is kept warm: the
boat's load does not show it, and who is not asked cannot look. So under the rule *auto*
such an appliance needs a meter of its own, and that has to stand at its off-level for
longer than the kind ever pauses. A dough rises at no more than a clock draws; no meter
distinguishes that from off. Where nothing can, somebody is asked.
"""

from collections.abc import Mapping
from math import inf
from typing import Final

from ..boat.boat import Appliance

_STATED_SHARE: Final = 1.25
_METER_W: Final = 1.0
"""A plug's meter errs by about that much at little power."""


def off_level_w(appliance: Appliance) -> float:
    """Return the draw up to which an own meter shows an appliance of this kind as off, W.

    It is half of the least that its quiet work draws, 0 where that cannot be distinguished from
    its stated standby.
    """
    least_w = appliance.kind.traits.quiet_w
    standby_w = _STATED_SHARE * (appliance.standby_power_w or 0.0) + _METER_W
    return max(0.5 * least_w, standby_w) if standby_w < 0.8 * least_w else 0.0


def hides(appliance: Appliance) -> bool:
    """Return whether an appliance may work unseen, by the load and by its own meter."""
    if appliance.kind.traits.quiet_w <= 0.0:
        return False
    return appliance.power_sensor is None or off_level_w(appliance) <= 0.0


type QuietWorkState = dict[str, float]
"""What `QuietWork` saves: when each appliance last worked, Unix time."""


class QuietWork:
    """Since when own meters have shown that nothing on a circuit is at its quiet work.

    `pause_s` is how long the others may pause, whose work the boat's load shows.
    """

    def __init__(self, appliances: tuple[Appliance, ...]) -> None:
        """Watch the appliances of one circuit, of which nothing is known yet."""
        self._metered = {
            a.name: (off_level_w(a), a.kind.traits.quiet_s)
            for a in appliances
            if a.kind.traits.quiet_w > 0.0 and a.power_sensor is not None
        }
        self.pause_s = max(
            (a.kind.traits.quiet_s for a in appliances if a.name not in self._metered),
            default=0.0,
        )
        self._worked_s: dict[str, float] = {}

    def observe(
        self, at_s: float, meters_w: Mapping[str, float | None], *, anew: bool
    ) -> None:
        """Take what own meters show; `anew` says that nothing was seen before `at_s`."""
        for name, (off_w, _) in self._metered.items():
            power_w = meters_w.get(name)
            if anew or power_w is None or power_w > off_w:
                self._worked_s[name] = at_s

    def may_go_on(self, at_s: float) -> bool:
        """Return whether something may still be at work, or pause, by its own meter."""
        return any(
            at_s - self._worked_s.get(name, inf) < quiet_s
            for name, (_, quiet_s) in self._metered.items()
        )

    def snapshot(self) -> QuietWorkState:
        """Return the state as JSON-able data."""
        return dict(self._worked_s)

    def restore(self, state: QuietWorkState) -> None:
        """Take up a state from `snapshot`."""
        self._worked_s = {n: at_s for n, at_s in state.items() if n in self._metered}
