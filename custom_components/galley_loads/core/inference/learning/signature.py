"""Learn mode: the crew runs one appliance alone, and its signature is taken.

The load before the start is what else runs; what is above it while the appliance runs is the
appliance. The load's changes are kept as levels with the time spent at each.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ...metering.load_sample import LoadSample
from ...phrase import PhrasedError, phrase

STEADY_S: Final = 15.0
"""Judgement, s: how long the load is steady before the appliance is switched on."""
LEAST_DRAW_W: Final = 40.0
"""Judgement, W: a smaller rise is not taken for the appliance."""
UNSTEADY_W: Final = 40.0
"""Judgement, W: a load that varies by more is not steady."""
OVER_AFTER_S: Final = 60.0
"""Judgement, s: the session is over when nothing was drawn for so long."""
LONGEST_S: Final = 4.0 * 3600.0
"""Judgement, s: the longest session."""
LEVEL_SHARE: Final = 0.04
"""Judgement, a share: draws that differ by less are one level."""


class LearnProblem(PhrasedError):
    """Why no signature could be taken."""


@dataclass(frozen=True, slots=True)
class Signature:
    """What one appliance draws when it runs alone.

    `full_power_w` is its highest level that lasted; `levels` are (W, seconds) in the
    order of their duty cycle.
    """

    appliance: str
    taken_at_s: float
    full_power_w: float
    duration_s: float
    energy_wh: float
    levels: tuple[tuple[float, float], ...]

    def as_plain(self) -> dict[str, Any]:
        """Return it JSON-able."""
        return {
            "appliance": self.appliance,
            "taken_at_s": self.taken_at_s,
            "full_power_w": self.full_power_w,
            "duration_s": self.duration_s,
            "energy_wh": self.energy_wh,
            "levels": [list(level) for level in self.levels],
        }

    @classmethod
    def from_plain(cls, state: Mapping[str, Any]) -> Signature:
        """Return what `as_plain` gave."""
        return cls(
            state["appliance"],
            state["taken_at_s"],
            state["full_power_w"],
            state["duration_s"],
            state["energy_wh"],
            tuple((power, seconds) for power, seconds in state["levels"]),
        )


class LearnSession:
    """One session of learn mode for one appliance."""

    def __init__(self, appliance: str, rated_power_w: float) -> None:
        """Begin; the appliance is still off."""
        self.appliance = appliance
        self._rated_w = rated_power_w
        self._before: list[tuple[float, float]] = []
        self._draws: list[tuple[float, float]] = []
        self._last: tuple[float, float] | None = None
        self._started_s: float | None = None
        self._quiet_since_s: float | None = None
        self._before_w = 0.0
        self.is_over = False

    @property
    def has_begun(self) -> bool:
        """Whether the appliance was seen to switch on."""
        return self._started_s is not None

    def observe(self, sample: LoadSample) -> None:
        """Take the next load sample; `is_over` says when the appliance is done."""
        if self.is_over:
            return
        if sample.load_w is None:
            raise LearnProblem(phrase("learn.not_measured"))
        at_s, load_w = sample.at_s, sample.load_w
        if self._last is not None:
            seconds = at_s - self._last[0]
            if seconds > 0.0:
                self._held(self._last[1], seconds)
        self._last = (at_s, load_w)
        if self._started_s is None:
            if self._before and load_w - self._mean_before_w() > self._least_w():
                self._start(at_s)
        elif at_s - self._started_s > LONGEST_S:
            self.is_over = True
        elif load_w - self._before_w < 0.4 * self._least_w():
            self._quiet_since_s = self._quiet_since_s or at_s
            self.is_over = at_s - self._quiet_since_s >= OVER_AFTER_S
        else:
            self._quiet_since_s = None

    def _least_w(self) -> float:
        return max(LEAST_DRAW_W, 0.05 * self._rated_w)

    def _mean_before_w(self) -> float:
        total = sum(seconds for _, seconds in self._before)
        return sum(power * seconds for power, seconds in self._before) / total

    def _held(self, load_w: float, seconds: float) -> None:
        if self._started_s is None:
            self._before.append((load_w, seconds))
        else:
            self._draws.append((load_w - self._before_w, seconds))

    def _start(self, at_s: float) -> None:
        if sum(seconds for _, seconds in self._before) < STEADY_S:
            raise LearnProblem(
                phrase("learn.too_soon", steady_s=STEADY_S, appliance=self.appliance)
            )
        powers = [power for power, _ in self._before]
        if max(powers) - min(powers) > UNSTEADY_W:
            raise LearnProblem(
                phrase(
                    "learn.unsteady",
                    change_w=max(powers) - min(powers),
                    appliance=self.appliance,
                )
            )
        self._before_w = self._mean_before_w()
        self._started_s = at_s

    def finish(self) -> Signature:
        """Return the signature; raises `LearnProblem` where there is none to take."""
        if self._started_s is None:
            raise LearnProblem(phrase("learn.not_seen", appliance=self.appliance))
        draws = list(self._draws)
        while draws and draws[-1][0] < 0.4 * self._least_w():
            draws.pop()
        levels = _levels(draws, self._least_w())
        lasting = [power for power, seconds in levels if seconds >= 4.0]
        if not lasting:
            raise LearnProblem(phrase("learn.too_short", appliance=self.appliance))
        full_w = max(lasting)
        if full_w > 2.0 * self._rated_w:
            raise LearnProblem(
                phrase("learn.too_much", power_w=full_w, appliance=self.appliance)
            )
        return Signature(
            appliance=self.appliance,
            taken_at_s=self._started_s,
            full_power_w=full_w,
            duration_s=sum(seconds for _, seconds in draws),
            energy_wh=sum(power * seconds for power, seconds in draws) / 3600.0,
            levels=tuple(levels),
        )


def _levels(
    draws: list[tuple[float, float]], least_w: float
) -> list[tuple[float, float]]:
    """Return (mean W, seconds) of draws that lie together, longest first."""
    groups: list[list[float]] = []
    for power, seconds in sorted(draws):
        if power < least_w:
            continue
        if groups:
            energy, total = groups[-1]
            mean = energy / total
            if power - mean <= LEVEL_SHARE * mean + 8.0:
                groups[-1][0] += power * seconds
                groups[-1][1] += seconds
                continue
        groups.append([power * seconds, seconds])
    levels = [(energy / total, total) for energy, total in groups]
    return sorted(levels, key=lambda level: -level[1])
