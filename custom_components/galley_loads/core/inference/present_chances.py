"""What may be going on right now, the newest step included.

The hypotheses learn of a step when its steady state closes, ten seconds later. Whoever
cooks has long seen the kettle by then, so for the present they are extended once ahead: as
they would be if the load stayed as it is. Nothing of that is kept.
"""

from collections.abc import Callable, Mapping
from math import exp
from typing import Final

from .model.dwell_time import chance_to_go_on, is_silent
from .model.hypothesis import UNNAMED, Hypothesis, RunId
from .model.possibility import Possibility, PossibleLoad
from .model.state_machine import StateMachine
from .review.run_verdict import RunVerdict
from .search.beam import Beam
from .search.hypothesis_past import TEMPER, phase_of
from .search.steady_states import SteadyState, SteadyStateFinder

AGAIN_AFTER: Final = 2.0
"""Judgement, a factor: a step is looked at again when it is so many times as old, or when
its level moved."""
MOVED_W: Final = 5.0
"""Judgement, W: a level that moved by less says nothing new."""
MOVED_SHARE: Final = 0.01
"""Judgement, a share of the level, on top of it."""


class PresentChances:
    """Looks ahead of the hypotheses; what it remembers saves work and changes nothing."""

    def __init__(
        self,
        machines: tuple[StateMachine, ...],
        names: tuple[str, ...],
        finder: SteadyStateFinder,
        beam: Beam,
        prepare: Callable[[SteadyState], object],
    ) -> None:
        """Hold what it looks at; `prepare` is called before the hypotheses are extended."""
        self._machines = machines
        self._names = names
        self._finder = finder
        self._beam = beam
        self._prepare = prepare
        self._ahead: list[Hypothesis] = []
        self._of: list[Hypothesis] = []
        self._last: SteadyState | None = None

    def possibilities(
        self, at_s: float, verdicts: Mapping[RunId, RunVerdict]
    ) -> list[Possibility]:
        """Return what may be going on at a time, the likeliest first."""
        hypotheses = self._hypotheses(at_s)
        if not hypotheses:
            return []
        least = hypotheses[0].cost
        weights = [exp((least - each.cost) / TEMPER) for each in hypotheses]
        total = sum(weights)
        return [
            Possibility(
                weight / total,
                each.base_w,
                each.total_w,
                self._loads(each, at_s, verdicts),
            )
            for each, weight in zip(hypotheses, weights, strict=True)
        ]

    def _hypotheses(self, at_s: float) -> list[Hypothesis]:
        kept = self._beam.hypotheses
        steadies = self._finder.ahead(at_s) if kept else ()
        if not steadies:
            self._last = None
            return kept
        newest = steadies[-1]
        if self._last is None or self._of is not kept or _differs(self._last, newest):
            self._prepare(steadies[0])
            self._of, self._last = kept, newest
            self._ahead = self._beam.ahead(steadies)
        return self._ahead

    def _loads(
        self, hypothesis: Hypothesis, at_s: float, verdicts: Mapping[RunId, RunVerdict]
    ) -> tuple[PossibleLoad, ...]:
        found: list[PossibleLoad] = []
        for load in hypothesis.loads:
            state = self._machines[load.index].states[load.state]
            verdict = verdicts.get(load.run)
            named = load.index != UNNAMED and not (verdict and verdict.goes_back)
            found.append(
                PossibleLoad(
                    self._names[load.index] if named else None,
                    load.run_start_s,
                    load.power_w,
                    phase_of(load, state),
                    is_silent(load, state),
                    chance_to_go_on(load, state, at_s),
                    1.0 if verdict is None else verdict.confidence_factor,
                )
            )
        return tuple(found)


def _differs(before: SteadyState, now: SteadyState) -> bool:
    """Return whether a steady state that goes on says more than it did."""
    moved_w = MOVED_W + MOVED_SHARE * abs(before.level_w)
    return (
        now.start_s != before.start_s
        or abs(now.level_w - before.level_w) > moved_w
        or now.end_s - now.start_s > AGAIN_AFTER * (before.end_s - before.start_s)
    )
