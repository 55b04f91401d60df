"""Whether a circuit may be cut at this moment: all the conditions, in one place."""

from typing import Final

from ..boat.boat import CutRule
from .circuit_case import Case
from .cut_facts import CutFacts
from .idle_time import CircuitWatch
from .outcomes import Asker, Reason
from .restless import QUIET_S

FRESH_S: Final = 120.0
"""A cut needs a load reported within this time."""
SAME_TIME_S: Final = 120.0
"""The engine goes on by itself at every full minute; further off, a clock was set."""
METER_FRESH_S: Final = 3600.0
"""An appliance's own meter at rest has little to report; it must have lived this lately."""
WORTH_ASKING_W: Final = 3.0
ON_REQUEST_IDLE_S: Final = 120.0
"""Even a person's wish to cut needs two minutes without draw."""


def obstacle(
    case: Case, moment: CutFacts, by: Asker, *, resting_known: bool, quiet: bool
) -> Reason | None:
    """Return the first reason against cutting a circuit now, None if there is none.

    A person's wish overrides the idle minutes, a keep and quiet hours. It overrides
    nothing that is about safety: readings, runs, power that nobody explains, the fans.
    """
    watch, at_s = case.watch, moment.at_s
    closed = moment.relay_closed.get(case.circuit.name)
    idle_since_s = watch.idle_since_s
    idle_s = 0.0 if idle_since_s is None else at_s - idle_since_s
    by_rule = by is Asker.RULE
    by_itself = by_rule and case.circuit.cut is CutRule.AUTO
    needed_s = 60.0 * case.circuit.idle_minutes if by_rule else ON_REQUEST_IDLE_S
    if by_itself:
        needed_s = max(needed_s, watch.pause_s)
    # A wish may come from afar, and a dough rests for minutes between two kneadings.
    quiet_s = max(QUIET_S, needed_s)
    checks = (
        (case.forbidden, case.forbidden is not None),
        (Reason.SHARED_RELAY, case.circuit.name in moment.relay_elsewhere),
        (Reason.STUCK, case.stuck is not None),
        (Reason.NOT_PERMITTED, by_rule and case.was_withdrawn),
        (Reason.CHECKING, case.verification is not None),
        (Reason.RELAY_UNKNOWN, closed is None),
        (Reason.ALREADY_OPEN, closed is False),
        (Reason.TIME_DIFFERS, abs(at_s - moment.live.at_s) > SAME_TIME_S),
        (Reason.READINGS_STALE, not _load_is_fresh(moment)),
        (Reason.METER_STALE, not _meters_are_alive(watch, moment)),
        (Reason.RUN_OPEN, watch.running(moment)),
        (Reason.RUN_DOUBTFUL, by_rule and watch.confusable_run(moment)),
        (Reason.METER_DRAWS, watch.meter_draws(moment)),
        (Reason.RESTING_UNKNOWN, not resting_known),
        (Reason.DRAW_UNEXPLAINED, watch.draw_unexplained),
        (Reason.DRAW_RESTLESS, watch.restless(at_s, quiet_s)),
        (Reason.MAY_HOLD, by_itself and watch.may_hold(at_s)),
        (Reason.RUN_DOWN, watch.cooling(at_s)),
        (Reason.IDLE_TOO_SHORT, idle_s < needed_s),
        (Reason.KEPT, by_rule and at_s < case.keep_until_s),
        (Reason.QUIET_HOURS, by_rule and quiet),
        (Reason.NOTHING_TO_SAVE, by_rule and not _is_worth_asking(case, moment)),
    )
    return next((reason for reason, applies in checks if applies), None)


def _is_worth_asking(case: Case, moment: CutFacts) -> bool:
    """Return whether a question is worth the crew's attention; a cut needs none."""
    if case.circuit.cut is not CutRule.ASK:
        return True
    return moment.likely_w.get(case.circuit.name, WORTH_ASKING_W) >= WORTH_ASKING_W


def _load_is_fresh(moment: CutFacts) -> bool:
    age_s = moment.load_age_s
    return moment.sample.load_w is not None and age_s is not None and age_s <= FRESH_S


def _meters_are_alive(watch: CircuitWatch, moment: CutFacts) -> bool:
    meters_w = watch.meters_w(moment)
    for appliance in watch.appliances:
        if appliance.power_sensor is None:
            continue
        age_s = moment.meter_age_s.get(appliance.name)
        if (
            meters_w.get(appliance.name) is None
            or age_s is None
            or age_s > METER_FRESH_S
        ):
            return False
    return True
