"""The handful of competing hypotheses, extended steady state by steady state."""

from collections.abc import Iterable
from math import inf, log
from typing import Final

from ..model.hypothesis import STILL, ActiveLoad, Hypothesis, PastStep, RunId
from .extender import Extender
from .grower import Candidate
from .steady_states import SteadyState

AGE_CLASSES: Final = 4.0
"""Judgement, classes per unit of the logarithm of an age in s: ages in one class are
one view."""
KEPT: Final = 16
"""Judgement, hypotheses: how many go on."""
APART_W: Final = 30.0
"""Judgement, W: two views with the same states, whose base loads differ by more, are
two views."""
WIDE: Final = 24
"""Judgement, hypotheses: how many are worked out before the best are chosen."""
ALIKE: Final = 3
"""Judgement, hypotheses: how many go on in which the same loads draw nearly the
same."""
SAME_SET: Final = 5
"""Judgement, hypotheses: how many go on in which the same loads run."""
SAME_PAST: Final = 8
"""Judgement, hypotheses: how many go on in which the same loads began long ago."""
LONG_AGO_S: Final = 60.0
"""Judgement, s: what began earlier began long ago."""
MARGIN: Final = 12.0
"""Judgement, a cost: what is dearer than the best by more is let go."""
RIVALS: Final = 3
"""Judgement, hypotheses: how many that nearly won are remembered at one step."""
RIVAL_MARGIN: Final = 8.0
"""Judgement, a cost: what lost by more did not nearly win."""


class Beam:
    """Competing hypotheses, cheapest first."""

    __slots__ = ("extender", "hypotheses")

    def __init__(self, extender: Extender) -> None:
        """Start without any."""
        self.extender = extender
        self.hypotheses: list[Hypothesis] = []

    def begin(self, base_w: float) -> None:
        """Start anew: nothing runs, the base load is as given."""
        self.hypotheses = [Hypothesis(0.0, base_w, base_w, (), None)]

    def extend(self, steady: SteadyState) -> None:
        """Extend all by one steady state and keep the best."""
        extender = self.extender
        extender.prepare(steady, self.hypotheses[0])
        limit = inf
        candidates: list[Candidate] = []
        for source in self.hypotheses:
            if source.cost > limit:
                break
            for candidate in extender.candidates(source, steady, limit):
                candidates.append(candidate)
                limit = min(limit, candidate.cost + MARGIN)
        candidates.sort(key=_cost)
        grow = extender.grower.grow
        kept: dict[tuple[object, ...], Hypothesis] = {}
        worst = inf
        for candidate in candidates:
            if candidate.cost > limit or candidate.cost > worst:
                break
            grown = grow(candidate, steady)
            key = (
                grown.held,
                *sorted(
                    (load.index, load.state, _age_class(steady.end_s - load.since_s))
                    for load in grown.loads
                ),
            )
            other = kept.get(key)
            if other is not None and abs(other.base_w - grown.base_w) > APART_W:
                key = (*key, -1)
                other = kept.get(key)
            if other is None:
                kept[key] = grown
                if len(kept) >= WIDE:
                    worst = sorted(e.cost for e in kept.values())[WIDE - 1]
            elif other.cost <= grown.cost:
                _note_rival(other, grown)
            else:
                _note_rival(grown, other)
                kept[key] = grown
        hypotheses = _diverse(
            sorted(kept.values(), key=_cost), steady.start_s - LONG_AGO_S
        )
        least = hypotheses[0].cost
        for hypothesis in hypotheses:
            hypothesis.cost -= least
        self.hypotheses = [e for e in hypotheses if e.cost <= MARGIN]

    def ahead(self, steadies: Iterable[SteadyState]) -> list[Hypothesis]:
        """Return the hypotheses as they would be after further steady states.

        The hypotheses themselves stay as they are.
        """
        kept = self.hypotheses
        try:
            for steady in steadies:
                self.extend(steady)
            return self.hypotheses
        finally:
            self.hypotheses = kept

    def bridge(self, start_s: float, end_s: float) -> None:
        """Let all pass over a short stretch that was not measured."""
        for e in self.hypotheses:
            e.past = PastStep(e.past, start_s, end_s, 0.0, e.base_w, (), False)

    def shut(self, dead: frozenset[int]) -> None:
        """End the runs of appliances whose circuit was opened."""
        for e in self.hypotheses:
            gone: tuple[ActiveLoad, ...] = tuple(p for p in e.loads if p.index in dead)
            if gone:
                e.loads = tuple(p for p in e.loads if p.index not in dead)
                e.total_w -= sum(p.power_w for p in gone)

    def cut(self, horizon_s: float) -> list[PastStep]:
        """Make the best one's past up to a time final; return it, in order.

        All hypotheses go on from there: what is final is let go, and whichever proves
        better later says what came after.
        """
        final: list[PastStep] = []
        past_step = self.hypotheses[0].past
        while past_step is not None:
            if past_step.end_s <= horizon_s:
                final.append(past_step)
            past_step = past_step.parent
        final.reverse()
        for e in self.hypotheses:
            past_step = e.past
            if past_step is not None and past_step.end_s <= horizon_s:
                e.past = None
                continue
            while past_step is not None:
                parent = past_step.parent
                if parent is not None and parent.end_s <= horizon_s:
                    past_step.parent = None
                    break
                past_step = parent
        return final


def _diverse(hypotheses: list[Hypothesis], long_ago_s: float) -> list[Hypothesis]:
    """Return the best ones, but not too many that differ only in detail.

    At most `ALIKE` of those in which the same loads draw nearly the same, at most
    `SAME_SET` of those in which the same loads run, and at most `SAME_PAST` of those in
    which the same loads began long ago: pulses of the moment must not crowd out another
    view of what has run for an hour.
    """
    alike: dict[tuple[int, ...], int] = {}
    sets: dict[tuple[int, ...], int] = {}
    pasts: dict[tuple[RunId, ...], int] = {}
    result: list[Hypothesis] = []
    for e in hypotheses:
        running = tuple(sorted(load.index for load in e.loads))
        key = tuple(
            sorted(load.index * 64 + int(load.power_w / 40.0) for load in e.loads)
        )
        past = tuple(
            sorted(load.run for load in e.loads if load.run_start_s < long_ago_s)
        )
        count = alike.get(key, 0)
        total = sets.get(running, 0)
        shared = pasts.get(past, 0)
        if count < ALIKE and total < SAME_SET and shared < SAME_PAST:
            alike[key] = count + 1
            sets[running] = total + 1
            pasts[past] = shared + 1
            result.append(e)
            if len(result) == KEPT:
                break
    return result


def _age_class(age_s: float) -> int:
    """Return a number that states of nearly one age share.

    What comes next hangs on the logarithm of the age: of two views that differ by less
    in it, the better stands for both.
    """
    return int(AGE_CLASSES * log(age_s + 1.0))


def _cost(item: Candidate | Hypothesis) -> float:
    return item.cost


def _note_rival(winner: Hypothesis, loser: Hypothesis) -> None:
    """Remember what nearly won, for the confidence of what did."""
    gap = loser.cost - winner.cost
    if gap > RIVAL_MARGIN or winner.past is None or winner.runs == loser.runs:
        return
    runs = (*loser.runs, *((p.index, p.run_start_s, STILL) for p in loser.loads))
    rivals = (*winner.past.rivals, (gap, runs))
    winner.past.rivals = rivals[-RIVALS:]
