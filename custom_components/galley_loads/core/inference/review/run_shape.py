"""What each run was like as a whole, gathered from a stretch of past.

A run is reported as it grows, from one steady state to the next; some of what distinguishes
one appliance from another only shows when the run is looked at whole.
"""

from typing import Final

from ..model.hypothesis import UNNAMED, PastStep, RunId
from ..model.state_machine import SILENT_W, StateMachine

ONE_LEVEL_SHARE: Final = 0.04
"""Judgement, a share: draws that differ by less from the run's median are one level, as
pans and plates warm up."""
UNTOUCHED_SHARE: Final = 0.06
"""Judgement, a share: a draw that strays from its own mean by less has not been turned;
powers drift."""


class RunShape:
    """How long one run drew what.

    Attributes:
        began_s: when it began, Unix time.
        start_s: when it began within the stretch, Unix time.
        end_s: when it ended within the stretch, Unix time.
        whole_s: how long it was on, s.
        full_s: of that, at its full power.
        level_s: of that, at a level of its own.
        heat_ws: the energy of both, Ws.
        seen_s: how long the meter saw it well: no edge, no pulse too short for it.
        seen_full_s: of that, at its full power.
        seen_full_ws: the energy in that time, Ws.
        seen_level_s: of that, at a level of its own.
        paused: whether it drew next to nothing in between.
    """

    __slots__ = (
        "_draws",
        "began_s",
        "end_s",
        "full_s",
        "heat_ws",
        "level_s",
        "paused",
        "seen_full_s",
        "seen_full_ws",
        "seen_level_s",
        "seen_s",
        "start_s",
        "whole_s",
    )

    def __init__(self, began_s: float, start_s: float) -> None:
        """Begin with nothing seen of a run that began at or before the stretch."""
        self.began_s = began_s
        self.start_s = start_s
        self.end_s = start_s
        self.whole_s = 0.0
        self.full_s = 0.0
        self.level_s = 0.0
        self.heat_ws = 0.0
        self.seen_s = 0.0
        self.seen_full_s = 0.0
        self.seen_full_ws = 0.0
        self.seen_level_s = 0.0
        self.paused = False
        # In the order of time; a pause is a draw of nothing for no time.
        self._draws: list[tuple[float, float]] = []

    def add(self, span_s: float, draw: str, power_w: float, seen: bool) -> None:
        """Take a while of the run in a state that draws like that; `seen` if seen well."""
        self.whole_s += span_s
        if draw == "full":
            self.full_s += span_s
        elif draw == "level":
            self.level_s += span_s
        elif power_w < SILENT_W:
            self.paused = True
        if draw != "small":
            self.heat_ws += span_s * power_w
        if not seen:
            return
        self.seen_s += span_s
        if draw == "full":
            self.seen_full_s += span_s
            self.seen_full_ws += span_s * power_w
        elif draw == "level":
            self.seen_level_s += span_s
        self._draws.append((0.0, 0.0) if draw == "small" else (power_w, span_s))

    @property
    def lasted_s(self) -> float:
        """How long it lasted from its beginning to its end within the stretch, s."""
        return self.end_s - self.began_s

    @property
    def is_whole(self) -> bool:
        """Whether it began within the stretch."""
        return self.start_s <= self.began_s

    def apart_s(self, other: RunShape) -> float:
        """Return how long it was from the end of one to the start of the other, s."""
        return max(0.0, other.start_s - self.end_s, self.start_s - other.end_s)

    @property
    def is_cold(self) -> bool:
        """Whether it never heated anything."""
        return self.full_s + self.level_s == 0.0

    def one_level(self) -> tuple[float, float]:
        """Return the median of its draw while it heated, W, and that level's share of it.

        The share is that of the time, 0 to 1; nothing seen of its heat is a level of 0.
        """
        draws = sorted(self._draws)
        total_s = sum(span_s for _, span_s in draws)
        left_s = 0.5 * total_s
        level_w = 0.0
        for power_w, span_s in draws:
            level_w = power_w
            left_s -= span_s
            if left_s <= 0.0:
                break
        near_w = ONE_LEVEL_SHARE * level_w
        near_s = sum(span_s for w, span_s in draws if abs(w - level_w) <= near_w)
        return level_w, near_s / total_s if total_s else 0.0

    def untouched_s(self, low_w: float) -> float:
        """Return how long it drew one power of at least that at the longest, s."""
        longest_s = still_s = mean_w = 0.0
        for power_w, span_s in self._draws:
            if abs(power_w - mean_w) > UNTOUCHED_SHARE * mean_w or not still_s:
                still_s, mean_w = 0.0, power_w
            if span_s:
                still_s += span_s
                mean_w += (power_w - mean_w) * span_s / still_s
            if mean_w >= low_w:
                longest_s = max(longest_s, still_s)
        return longest_s


def run_shapes(
    machines: tuple[StateMachine, ...], path: list[PastStep]
) -> dict[RunId, RunShape]:
    """Return the shape of every named run within a stretch of past, by index and start."""
    shapes: dict[RunId, RunShape] = {}
    for past_step in path:
        span_s = past_step.end_s - past_step.start_s
        for load in past_step.loads:
            if load.index == UNNAMED:
                continue
            key = load.run
            shape = shapes.get(key)
            if shape is None:
                shape = shapes[key] = RunShape(load.run_start_s, past_step.start_s)
            shape.end_s = past_step.end_s
            draw = machines[load.index].states[load.state].draw
            seen = not past_step.edge and not load.partial
            shape.add(span_s, draw, load.power_w, seen)
    return shapes
