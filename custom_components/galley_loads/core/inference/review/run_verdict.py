"""The one verdict on a whole run: whose it was after all, and how sure that is.

A run is reported as it grows; only when it is over can it be held against what its kind
does. Hypotheses are weighed against each other, and that all of them may be wrong, none of
them knows. So each run is judged once, by its shape:

* what no run of its kind is like goes back to the loads that nobody named: it never heated
  anything, it is too little for its kind, or it was left alone as nobody leaves that kind;
* what stays keeps a part of its confidence. The power counts: a heater that draws what it
  is known to draw is seldom somebody else's, one that draws a tenth less or more mostly is,
  and a level that may be anything proves least. So does the length, when the run is over:
  what was shorter than nine of ten of its kind's runs, or far longer than nine of ten, was
  mostly somebody else's.
"""

from collections.abc import Container, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple

from ..learning.learned_power import PowerBelief
from ..model.hypothesis import RunId
from ..model.state_machine import StateMachine
from .run_shape import RunShape

LEAST_SHARE: Final = 0.3
"""Judgement, a share: of the shortest usual dwell at full power, what a run has at least."""
LATEST_HEAT_S: Final = 900.0
"""Judgement, s: a run that goes on and heated nothing for so long is not waited for."""
ONE_LEVEL_SHARE: Final = 0.88
"""Judgement, a share: of its time at one level, from which on nobody seems to have touched
a run's knob."""
BELOW_FULL_SHARE: Final = 0.9
"""Judgement, a share: below so much of the full power a knob was set; what is at full power
may just be on."""
LEFT_S: Final = 900.0
"""Judgement, s: nobody leaves a hob alone for longer, touching neither knob nor pan."""
UNTOUCHED_SHARE: Final = 0.35
"""Judgement, a share: of a plate's power, below which a pot may simmer by itself."""
COMPANY_S: Final = 300.0
"""Judgement, s: what is cooked with something else begins or ends this close to it."""

NEAR_SHARE: Final = 0.025
"""Judgement, a share: a power this near to the known one is the appliance's own."""
NEAR_SDS: Final = 1.0
"""Judgement, standard deviations of the known power: or this near."""
ALMOST_SHARE: Final = 0.045
"""Judgement, a share: a power this near to the known one is almost the appliance's own."""
ALMOST_SDS: Final = 1.8
"""Judgement, standard deviations of the known power: or this near."""
ALMOST: Final = 0.82
"""Judgement, a factor, after runs on simulated boats: confidence of an almost known power."""
FAR: Final = 0.6
"""Judgement, a factor, after runs on simulated boats: confidence of another power."""
ANY_LEVEL: Final = 0.87
"""Judgement, a factor, after runs on simulated boats: confidence of a hob's level."""
SHORT_S: Final = 60.0
"""Judgement, s: a run that was over sooner has hardly any shape."""
SHORT: Final = 0.5
"""Judgement, a factor, after runs on simulated boats: confidence of a run so short."""
FAR_TOO_BRIEF_SHARE: Final = 0.7
"""Judgement, a share: of the time that nine of ten runs of the kind last at least."""
FAR_TOO_BRIEF: Final = 0.35
"""Judgement, a factor, after runs on simulated boats: confidence of a run briefer than that."""
TOO_BRIEF: Final = 0.67
"""Judgement, a factor, after runs on simulated boats: confidence of a run briefer than nine
of ten of its kind."""
TOO_LONG_SHARE: Final = 1.2
"""Judgement, a share: of the time that nine of ten runs of the kind last at most."""
TOO_LONG: Final = 0.75
"""Judgement, a factor, after runs on simulated boats: confidence of a run longer than that."""
FAR_TOO_LONG_SHARE: Final = 1.5
"""Judgement, a share: of the time that nine of ten runs of the kind last at most."""
FAR_TOO_LONG: Final = 0.25
"""Judgement, a factor, after runs on simulated boats: confidence of a run longer than that."""
LEFT: Final = 0.4
"""Judgement, a factor, after runs on simulated boats: confidence of a run left alone."""


class BackReason(StrEnum):
    """What speaks against a run."""

    COLD = "cold"
    TOO_LITTLE = "too_little"
    LEFT_ALONE = "left_alone"
    OTHER_POWER = "other_power"
    ANY_LEVEL = "any_level"
    TOO_BRIEF = "too_brief"
    TOO_LONG = "too_long"
    SHORT = "short"


@dataclass(frozen=True, slots=True)
class RunVerdict:
    """What is thought of one run as a whole.

    `goes_back` says that it was not its appliance's and goes back to the loads that nobody
    named. `confidence_factor`, 0 to 1, is what its confidence is multiplied by where it
    does not. `reasons` are what speaks against it.
    """

    goes_back: bool
    confidence_factor: float
    reasons: tuple[BackReason, ...]


class Settled(NamedTuple):
    """What was settled before the stretch of past that is judged.

    Attributes:
        begun: the runs of which a part is settled.
        rejected: those of them that went back.
        last_end_s: when the last run ended that did not, Unix time.
    """

    begun: Container[RunId]
    rejected: Container[RunId]
    last_end_s: float


def run_verdicts(
    machines: tuple[StateMachine, ...],
    beliefs: tuple[PowerBelief, ...],
    shapes: Mapping[RunId, RunShape],
    running: Container[RunId],
    settled: Settled,
    *,
    live: bool,
) -> dict[RunId, RunVerdict]:
    """Return the verdict on every named run within a stretch of past.

    Of runs that go on (`running`) or of which a part is settled most is not known yet, so
    they do not go back; unless it is for settling (not `live`) and they were cold or left
    alone for long. What went back of a run keeps going back until it is neither.
    """

    def is_over(run: RunId) -> bool:
        return run not in running and run not in settled.begun

    def is_due(run: RunId, patience_s: float) -> bool:
        if run in settled.rejected or is_over(run):
            return True
        is_long = shapes[run].whole_s > patience_s
        return is_long and not live and run not in settled.begun

    against: dict[RunId, list[BackReason]] = {}
    factors: dict[RunId, float] = {}
    back: set[RunId] = set()
    left: list[RunId] = []
    for run, shape in shapes.items():
        machine, belief = machines[run[0]], beliefs[run[0]]
        reasons = against[run] = []
        was_left = _was_left(machine, belief.power_w, shape)
        if was_left:
            reasons.append(BackReason.LEFT_ALONE)
        factors[run] = _factor(
            machine, belief, shape, reasons, goes_on=run in running, was_left=was_left
        )
        if shape.is_cold:
            reasons.append(BackReason.COLD)
            if is_due(run, LATEST_HEAT_S):
                back.add(run)
        elif is_over(run) and _is_too_little(machine, belief.power_w, shape):
            reasons.append(BackReason.TOO_LITTLE)
            back.add(run)
        # A hob that somebody forgot is reported for as long as it is on.
        elif was_left and is_due(run, LEFT_S) and not (live and run in running):
            left.append(run)
    back.update(_without_company(left, back, shapes, settled))
    return {
        run: RunVerdict(run in back, factors[run], tuple(reasons))
        for run, reasons in against.items()
    }


def _without_company(
    left: list[RunId],
    back: set[RunId],
    shapes: Mapping[RunId, RunShape],
    settled: Settled,
) -> list[RunId]:
    """Return the runs left alone that nothing bears out.

    Where somebody stands and turns a knob, a run at one middle level from its start to its
    end was nobody's, if it was long or nothing else was cooked close to it.
    """
    others = [
        shape for run, shape in shapes.items() if run not in back and run not in left
    ]
    found: list[RunId] = []
    for run in left:
        shape = shapes[run]
        alone = shape.start_s - settled.last_end_s > COMPANY_S and all(
            shape.apart_s(other) > COMPANY_S for other in others
        )
        if alone or shape.whole_s > LEFT_S or run in settled.rejected:
            found.append(run)
    return found


def _is_too_little(machine: StateMachine, full_w: float, shape: RunShape) -> bool:
    """Return whether a whole run is too little for its kind.

    Each kind has a length that none of its runs falls short of, and a kind that begins at
    its full power stays there for a while.
    """
    return (
        shape.whole_s < machine.least_run_s
        or shape.full_s < LEAST_SHARE * machine.least_full_s
        or shape.heat_ws < machine.least_heat_s * full_w
    )


def _was_left(machine: StateMachine, full_w: float, shape: RunShape) -> bool:
    """Return whether a run was left alone as no run of its kind is.

    `full_w` is what the appliance is known to draw at full power, W. At one power for so
    long that toast would burn and a pan boil dry; or, where somebody stands and turns a
    knob, at one middle level from its start to its end.
    """
    least_w = UNTOUCHED_SHARE * machine.zone_share * full_w
    if shape.untouched_s(least_w) > machine.untouched_s:
        return True
    if machine.unrest_per_s == 0.0 or shape.paused:
        return False
    level_w, share = shape.one_level()
    return share > ONE_LEVEL_SHARE and level_w < BELOW_FULL_SHARE * full_w


def _factor(
    machine: StateMachine,
    belief: PowerBelief,
    shape: RunShape,
    reasons: list[BackReason],
    *,
    goes_on: bool,
    was_left: bool,
) -> float:
    """Return what a run's confidence is multiplied by, and add what speaks against it.

    What a meter caught half-way counts for nothing; a run of which only that is known keeps
    its confidence. How long a run that goes on will be is not known yet.
    """
    if shape.seen_s == 0.0:
        return 1.0
    power, reason = _power_factor(machine, belief, shape)
    if reason is not None:
        reasons.append(reason)
    if goes_on:
        return power
    length, reason = _length_factor(shape.lasted_s, machine)
    if reason is not None:
        reasons.append(reason)
    if shape.is_whole:
        if shape.seen_s < SHORT_S:
            reasons.append(BackReason.SHORT)
            length = min(length, SHORT)
        if was_left:
            length = min(length, LEFT)
    return power * length


def _length_factor(
    lasted_s: float, machine: StateMachine
) -> tuple[float, BackReason | None]:
    """Return the factor of a run's length, and what speaks against it."""
    if lasted_s < FAR_TOO_BRIEF_SHARE * machine.run_short_s:
        return FAR_TOO_BRIEF, BackReason.TOO_BRIEF
    if lasted_s < machine.run_short_s:
        return TOO_BRIEF, BackReason.TOO_BRIEF
    if lasted_s > FAR_TOO_LONG_SHARE * machine.run_long_s:
        return FAR_TOO_LONG, BackReason.TOO_LONG
    if lasted_s > TOO_LONG_SHARE * machine.run_long_s:
        return TOO_LONG, BackReason.TOO_LONG
    return 1.0, None


def _power_factor(
    machine: StateMachine, belief: PowerBelief, shape: RunShape
) -> tuple[float, BackReason | None]:
    """Return the factor of the power at which a run heated, and what speaks against it."""
    if shape.seen_full_s > 0.0:
        known_w, sd_w, _ = belief.modes[0]
        off_w = abs(shape.seen_full_ws / shape.seen_full_s - known_w)
        if off_w <= max(NEAR_SHARE * known_w, NEAR_SDS * sd_w):
            return 1.0, None
        if off_w <= max(ALMOST_SHARE * known_w, ALMOST_SDS * sd_w):
            return ALMOST, BackReason.OTHER_POWER
        return FAR, BackReason.OTHER_POWER
    if shape.seen_level_s > 0.0:
        # A hob has no power of its own; what heats at full power else did not.
        if machine.has_full:
            return FAR, BackReason.OTHER_POWER
        return ANY_LEVEL, BackReason.ANY_LEVEL
    return 1.0, None
