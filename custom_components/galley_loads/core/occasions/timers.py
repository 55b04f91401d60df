"""Timers that start when an appliance is at temperature.

"Sixty minutes at temperature" for a water bath or an oven: the timer waits for the heat,
runs from the moment it is reached, and says when it is over, or that the appliance went
off before.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Final

from ..boat.boat import Boat
from ..live.live_view import ApplianceState, LiveView
from ..phrase import PhrasedError, phrase

LONGEST_MINUTES: Final = 72 * 60.0
_HELD_S: Final = 45.0
"""The heater must have cycled this long before the temperature counts as reached."""
_GONE_S: Final = 180.0
_GIVEN_UP_S: Final = 12 * 3600.0
"""A timer that waits this long for an appliance to get hot is dropped."""


class TimerState(StrEnum):
    """What a timer does."""

    WAITING = "waiting"
    RUNNING = "running"
    OVER = "over"
    STOPPED = "stopped"


@dataclass(slots=True)
class Timer:
    """One appliance's timer; `started_s` is when its temperature was reached."""

    appliance: str
    minutes: float
    set_s: float
    state: TimerState = TimerState.WAITING
    started_s: float | None = None
    ended_s: float | None = None
    holding_since_s: float | None = None
    gone_since_s: float | None = None

    @property
    def ends_s(self) -> float | None:
        """When it will be over, None while it waits."""
        return None if self.started_s is None else self.started_s + 60.0 * self.minutes


class Timers:
    """At most one timer per appliance."""

    def __init__(self, boat: Boat) -> None:
        """Know which appliances hold a temperature."""
        self._timed = {a.name for a in boat.appliances if a.kind.traits.timed}
        self._timers: dict[str, Timer] = {}

    def set(self, appliance: str, minutes: float, at_s: float) -> Timer:
        """Set or replace an appliance's timer.

        Raises:
            PhrasedError: it is no appliance that holds a temperature, or the minutes make
                no sense.
        """
        if appliance not in self._timed:
            raise PhrasedError(
                phrase(
                    "problem.holds_no_temperature",
                    appliance=repr(appliance),
                    allowed=tuple(sorted(self._timed))
                    or (phrase("problem.none_aboard"),),
                )
            )
        if not 0 < minutes <= LONGEST_MINUTES:
            raise PhrasedError(
                phrase("problem.timer_minutes", minutes=minutes, most=LONGEST_MINUTES)
            )
        timer = Timer(appliance, minutes, at_s)
        self._timers[appliance] = timer
        return timer

    def cancel(self, appliance: str) -> bool:
        """Drop an appliance's timer; return whether there was one."""
        return self._timers.pop(appliance, None) is not None

    def get(self, appliance: str) -> Timer | None:
        """Return an appliance's timer, None if there is none."""
        return self._timers.get(appliance)

    @property
    def all(self) -> tuple[Timer, ...]:
        """All timers, those that have ended included until they are dropped."""
        return tuple(self._timers.values())

    def observe(self, live: LiveView, at_s: float) -> list[Timer]:
        """Take the present; return the timers that have just ended."""
        ended: list[Timer] = []
        for timer in list(self._timers.values()):
            match timer.state:
                case TimerState.WAITING:
                    self._wait(timer, live, at_s)
                case TimerState.RUNNING if self._ends(timer, live, at_s):
                    ended.append(timer)
                case TimerState.OVER | TimerState.STOPPED:
                    if at_s - (timer.ended_s or at_s) > 3600.0:
                        del self._timers[timer.appliance]
                case _:
                    pass
        return ended

    def _wait(self, timer: Timer, live: LiveView, at_s: float) -> None:
        if live.appliance(timer.appliance).state is not ApplianceState.HOLDING:
            timer.holding_since_s = None
            if at_s - timer.set_s > _GIVEN_UP_S:
                del self._timers[timer.appliance]
            return
        if timer.holding_since_s is None:
            timer.holding_since_s = at_s
        if at_s - timer.holding_since_s >= _HELD_S:
            timer.state = TimerState.RUNNING
            timer.started_s = timer.holding_since_s

    def _ends(self, timer: Timer, live: LiveView, at_s: float) -> bool:
        assert timer.started_s is not None
        if at_s >= timer.started_s + 60.0 * timer.minutes:
            timer.state, timer.ended_s = TimerState.OVER, at_s
            return True
        if live.load_w is None or live.appliance(timer.appliance).perhaps_running:
            # Without readings nobody can say that it went off; time goes on.
            timer.gone_since_s = None
            return False
        if timer.gone_since_s is None:
            timer.gone_since_s = at_s
        if at_s - timer.gone_since_s < _GONE_S:
            return False
        timer.state, timer.ended_s = TimerState.STOPPED, timer.gone_since_s
        return True

    def snapshot(self) -> list[dict[str, Any]]:
        """Return the timers as JSON-able data."""
        return [asdict(timer) | {"state": timer.state.value} for timer in self.all]

    def restore(self, state: list[Mapping[str, Any]]) -> None:
        """Take up timers from `snapshot`, except of appliances that are gone."""
        self._timers = {
            item["appliance"]: Timer(
                **(dict(item) | {"state": TimerState(item["state"])})
            )
            for item in state
            if item["appliance"] in self._timed
        }
