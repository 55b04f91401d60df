"""Who decides about cuts: every circuit is looked at, questions asked, answers heard.

The rules only ever say `Cut`. They have no word for closing a circuit, so that no command,
answer, restart or state of a relay can make it say one.
"""

from collections import deque
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final, TypedDict

from ..boat.boat import Boat, CutRule
from ..boat.quiet_hours import QuietHours
from ..metering.clock_steps import ClockSet
from ..stateful import Row, checked, from_row, row
from .circuit_case import Case, CaseState
from .cut_checks import obstacle
from .cut_facts import CutFacts
from .cut_log import CutLog, CutLogState, LogEntry
from .outcomes import (
    AnswerRejected,
    Ask,
    Asker,
    Cut,
    Kept,
    NotVerified,
    Outcome,
    QuestionOver,
    Reason,
    Refused,
    Stuck,
    Trouble,
    Unverified,
    Verified,
)
from .questions import AnswerProblem, Questions, QuestionsState
from .rest_power import RestPower, RestPowerState
from .verification import Verification, mean_load_w

QUESTION_LASTS_S: Final = 2 * 3600.0
SWITCHED_BACK_WITHIN_S: Final = 15 * 60.0
KEEP_AFTER_SWITCHING_BACK_S: Final = 4 * 3600.0
KEEP_AFTER_ANSWER_S: Final = 3600.0
LONGEST_KEEP_S: Final = 7 * 86400.0
LONGEST_SAVING_S: Final = 24 * 3600.0
"""A cut's saving is counted this long at most: later, somebody would have switched off."""
_PATIENCE_S: Final = 300.0
"""Bare power may call a circuit idle this much later than inference does; that is no news."""
_BEFORE_S: Final = 20.0
_STEP_S: Final = 300.0
_MOVES_KEPT: Final = 32

_NO_REFUSAL: Final = frozenset(
    {
        Reason.ALREADY_OPEN,
        Reason.RUN_OPEN,
        Reason.RUN_DOUBTFUL,
        Reason.CHECKING,
        Reason.NOTHING_TO_SAVE,
        Reason.NOT_PERMITTED,
    }
)
"""With these nothing was due, or the refusal was said when it happened."""

_QUESTION_ENDS: Final = frozenset(
    {Reason.ALREADY_OPEN, Reason.RUN_OPEN, Reason.KEPT, Reason.STUCK, Reason.NEVER}
)


class Answer(StrEnum):
    """What the crew may answer to the question whether to cut."""

    CUT = "cut"
    KEEP = "keep"


class CuttingRulesState(TypedDict):
    """What `CuttingRules` saves."""

    cases: dict[str, CaseState]
    questions: QuestionsState
    resting: dict[str, RestPowerState]
    running: list[str]
    moves: list[tuple[str, float]]
    history: list[tuple[float, float]]
    last_s: float | None
    clock_set: Row | None
    log: CutLogState


class CuttingRules:
    """The rules of cutting for one boat."""

    def __init__(
        self,
        boat: Boat,
        new_token: Callable[[], str],
        quiet_hours: QuietHours | None = None,
        *,
        cut_in_quiet_hours: bool = True,
    ) -> None:
        """Begin without a past; `new_token` gives unguessable tokens that never repeat.

        In quiet hours nobody is asked; what needs no question is cut all the same unless
        `cut_in_quiet_hours` is False (a relay may be heard in a bunk).
        """
        self._boat = boat
        self._cut_in_quiet_hours = cut_in_quiet_hours
        self._quiet_hours = quiet_hours
        self._cases = {
            circuit.name: Case.of(boat, circuit) for circuit in boat.circuits
        }
        self._questions = Questions(new_token)
        self._resting = {"load": RestPower(), "bank": RestPower()}
        self._running: frozenset[str] = frozenset()
        self._moves: deque[tuple[str, float]] = deque(maxlen=_MOVES_KEPT)
        self._history: deque[tuple[float, float]] = deque(maxlen=64)
        self._last_s: float | None = None
        self._clock_set: ClockSet | None = None
        self._log = CutLog()

    # What time brings.

    def observe(self, moment: CutFacts) -> list[Outcome]:
        """Look at every circuit and return what follows, in the order of the circuits."""
        outcomes = self._look(moment)
        for case in self._cases.values():
            if case.verification is not None:
                outcomes += self._verify(case, moment)
            else:
                outcomes += self._decide(case, moment)
        for question in self._questions.expire(moment.at_s):
            outcomes.append(QuestionOver(question.subject, moment.at_s, question.token))
        return self._note(outcomes)

    def _look(self, moment: CutFacts) -> list[Outcome]:
        """Take the moment in; return what follows from relays that were moved by hand."""
        outcomes = self._follow_clock(moment)
        views_w = self._views_w(moment)
        self._learn(moment, views_w)
        resting_w = {key: level.level_w for key, level in self._resting.items()}
        seconds = 0.0
        if self._last_s is not None:
            seconds = min(max(moment.at_s - self._last_s, 0.0), _STEP_S)
        for name, case in self._cases.items():
            elsewhere = [
                move_s
                for appliance, move_s in self._moves
                if self._boat.appliance(appliance).circuit != name
            ]
            closed_now = case.watch.observe(moment, views_w, resting_w, elsewhere)
            self._count_saving(case, moment, seconds)
            if closed_now:
                outcomes += self._closed_by_hand(case, moment.at_s)
        self._last_s = moment.at_s
        if moment.sample.load_w is not None:
            self._history.append((moment.at_s, moment.sample.load_w))
        return outcomes

    def _follow_clock(self, moment: CutFacts) -> list[Outcome]:
        """Start over where the clock was set: no span is what it seems any more."""
        clock_set, before_s = moment.live.clock_set, self._last_s
        is_news, self._clock_set = clock_set != self._clock_set, clock_set
        if not is_news or clock_set is None or before_s is None:
            return []
        at_s = moment.at_s
        for case in self._cases.values():
            case.start_over(at_s, at_s - before_s)
        self._moves.clear()
        self._history.clear()
        self._last_s = None
        return [
            QuestionOver(question.subject, at_s, question.token)
            for question in self._questions.close_all()
        ]

    def _views_w(self, moment: CutFacts) -> dict[str, float | None]:
        """Return the measures of the load: its own meter, and what sun and bank give."""
        sample = moment.sample
        bank_w = None
        if sample.battery_w is not None and sample.solar_w is not None:
            given_w = (
                sample.solar_w + (sample.other_charging_w or 0.0) - sample.battery_w
            )
            bank_w = given_w * self._boat.conversion
        return {"load": sample.load_w, "bank": bank_w}

    def _learn(self, moment: CutFacts, views_w: Mapping[str, float | None]) -> None:
        """Learn the resting level, and remember when runs began and ended."""
        running = frozenset(now.name for now in moment.live.appliances if now.running)
        for now in moment.live.appliances:
            if now.run_start_s is not None and now.name not in self._running:
                self._moves.append((now.name, now.run_start_s))
        self._moves.extend((name, moment.at_s) for name in self._running - running)
        self._running = running
        if self._last_s is None or any(
            now.perhaps_running for now in moment.live.appliances
        ):
            return
        seconds = min(max(moment.at_s - self._last_s, 0.0), 60.0)
        for key, load_w in views_w.items():
            if load_w is not None:
                self._resting[key].observe(load_w, seconds)

    def _closed_by_hand(self, case: Case, at_s: float) -> list[Outcome]:
        cut_s, case.cut_s = case.cut_s, None
        case.verification = None
        if cut_s is None or at_s - cut_s > SWITCHED_BACK_WITHIN_S:
            return []
        case.keep_until_s = max(case.keep_until_s, at_s + KEEP_AFTER_SWITCHING_BACK_S)
        return [Kept(case.circuit.name, at_s, case.keep_until_s, switched_back=True)]

    def _verify(self, case: Case, moment: CutFacts) -> list[Outcome]:
        assert case.verification is not None
        name, at_s = case.circuit.name, moment.at_s
        finding = case.verification.observe(
            at_s,
            moment.sample.load_w,
            moment.load_age_s,
            moment.relay_closed.get(name),
            case.watch.meters_w(moment),
            others_run=case.watch.others_run(moment),
        )
        if finding is None:
            return []
        fell_w = case.verification.fell_w
        case.verification = None
        if isinstance(finding, Trouble):
            return self._stuck(case, at_s, finding)
        if isinstance(finding, Unverified):
            return [NotVerified(name, at_s, finding)]
        return [Verified(name, at_s, fell_w)]

    def _stuck(self, case: Case, at_s: float, trouble: Trouble) -> list[Outcome]:
        case.stuck = trouble
        case.cut_s = None
        case.verification = None
        return [Stuck(case.circuit.name, at_s, trouble)]

    def _count_saving(self, case: Case, moment: CutFacts, seconds: float) -> None:
        if case.cut_s is None or case.watch.closed is not False:
            return
        standby_w = moment.standby_w.get(case.circuit.name)
        if standby_w is not None and moment.at_s - case.cut_s <= LONGEST_SAVING_S:
            case.saved_wh += standby_w * seconds / 3600.0

    # Decisions.

    def _decide(self, case: Case, moment: CutFacts) -> list[Outcome]:
        circuit, at_s = case.circuit, moment.at_s
        if case.forbidden in (Reason.NO_RELAY, Reason.NEVER):
            return []
        reason = self._obstacle(case, moment)
        outcomes: list[Outcome] = []
        question = self._questions.about(circuit.name)
        if question is not None and reason in _QUESTION_ENDS:
            self._questions.close(circuit.name)
            outcomes.append(QuestionOver(circuit.name, at_s, question.token))
            question = None
        if reason is not None:
            return outcomes + self._refuse_once(case, moment, reason)
        occasion_s = case.watch.occasion_s
        if circuit.cut is CutRule.AUTO:
            return [*outcomes, self._cut(case, moment, Asker.RULE)]
        if question is None and case.asked_occasion_s != occasion_s:
            case.asked_occasion_s = occasion_s
            question = self._questions.ask(circuit.name, at_s, QUESTION_LASTS_S)
            outcomes.append(
                Ask(
                    circuit.name,
                    at_s,
                    question,
                    moment.standby_w.get(circuit.name),
                    case.watch.idle_since_s or at_s,
                )
            )
        return outcomes

    def _obstacle(
        self, case: Case, moment: CutFacts, *, by: Asker = Asker.RULE
    ) -> Reason | None:
        return obstacle(
            case,
            moment,
            by,
            resting_known=self._resting["load"].level_w is not None,
            quiet=self._quiet(case, moment.at_s),
        )

    def _quiet(self, case: Case, at_s: float) -> bool:
        if self._quiet_hours is None:
            return False
        if case.circuit.cut is CutRule.AUTO and self._cut_in_quiet_hours:
            return False
        return self._quiet_hours.hold(at_s, self._boat.time_zone)

    def _refuse_once(
        self, case: Case, moment: CutFacts, reason: Reason
    ) -> list[Outcome]:
        """Say a refusal once per idle spell, and only when a cut was due."""
        circuit, occasion_s = case.circuit, case.watch.occasion_s
        if reason in _NO_REFUSAL:
            return []
        if occasion_s is None:
            return []
        overdue_s = moment.at_s - occasion_s - 60.0 * circuit.idle_minutes
        least_s = _PATIENCE_S if reason is Reason.IDLE_TOO_SHORT else 0.0
        if overdue_s < least_s:
            return []
        if case.refused_occasion_s != occasion_s:
            case.refused_occasion_s = occasion_s
            case.refused = set()
        if reason in case.refused:
            return []
        case.refused.add(reason)
        return [Refused(circuit.name, moment.at_s, Asker.RULE, reason)]

    def _cut(self, case: Case, moment: CutFacts, by: Asker) -> Cut:
        name, at_s = case.circuit.name, moment.at_s
        standby_w = moment.standby_w.get(name)
        meters_w = {
            meter: power_w
            for meter, power_w in case.watch.meters_w(moment).items()
            if power_w is not None
        }
        case.cut_s = at_s
        case.verification = Verification(
            at_s,
            mean_load_w(tuple(self._history), at_s - _BEFORE_S, at_s),
            standby_w,
            moment.floor_w,
            meters_w,
            by=by,
        )
        return Cut(name, at_s, by, standby_w)

    # What people want.

    def cut_now(
        self, circuit: str, moment: CutFacts, *, by: Asker = Asker.PERSON
    ) -> list[Outcome]:
        """Cut a circuit because somebody wants it, if nothing speaks against it.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        case = self._cases[circuit]
        outcomes = self._look(moment)
        reason = self._obstacle(case, moment, by=by)
        if reason is not None:
            outcomes.append(Refused(circuit, moment.at_s, by, reason))
        else:
            case.keep_until_s = 0.0
            outcomes.append(self._cut(case, moment, by))
            question = self._questions.close(circuit)
            if question is not None:
                outcomes.append(QuestionOver(circuit, moment.at_s, question.token))
        return self._note(outcomes)

    def keep(self, circuit: str, at_s: float, until_s: float) -> list[Outcome]:
        """Leave a circuit on until `until_s`, at most a week.

        Raises:
            KeyError: the boat has no circuit of that name.
            ValueError: the time is not after `at_s` or too far away.
        """
        case = self._cases[circuit]
        if not at_s < until_s <= at_s + LONGEST_KEEP_S:
            raise ValueError(
                f"keep until {until_s}: must be within a week after {at_s}"
            )
        case.keep_until_s = until_s
        outcomes: list[Outcome] = [Kept(circuit, at_s, until_s)]
        question = self._questions.close(circuit)
        if question is not None:
            outcomes.append(QuestionOver(circuit, at_s, question.token))
        return self._note(outcomes)

    def answer(self, token: str, answer: Answer, moment: CutFacts) -> list[Outcome]:
        """Take an answer to a question; it counts once and only while that is open."""
        question = self._questions.answer(token, moment.at_s)
        if isinstance(question, AnswerProblem):
            return self._note([AnswerRejected(moment.at_s, question)])
        outcomes = self._note(
            [QuestionOver(question.subject, moment.at_s, question.token)]
        )
        if answer is Answer.CUT:
            return outcomes + self.cut_now(question.subject, moment, by=Asker.ANSWER)
        until_s = moment.at_s + KEEP_AFTER_ANSWER_S
        return outcomes + self.keep(question.subject, moment.at_s, until_s)

    def failed(self, circuit: str, at_s: float) -> list[Outcome]:
        """Take that the order to open a relay could not be given.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        trouble = Trouble.RELAY_DID_NOT_OPEN
        return self._note(self._stuck(self._cases[circuit], at_s, trouble))

    def refuse(
        self,
        circuit: str,
        at_s: float,
        by: Asker,
        reason: Reason = Reason.NOT_PERMITTED,
    ) -> list[Outcome]:
        """Take that somebody may not have a circuit cut; it is only written down.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        name = self._cases[circuit].circuit.name
        return self._note([Refused(name, at_s, by, reason)])

    def withdraw(self, circuit: str, at_s: float) -> list[Outcome]:
        """Take back a cut that was not permitted: the relay got no order.

        The rules do not order it again in this idle spell.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        case = self._cases[circuit]
        by = Asker.RULE if case.verification is None else case.verification.by
        case.cut_s = None
        case.verification = None
        if by is Asker.RULE:
            case.withdrawn_occasion_s = case.watch.occasion_s
        return self.refuse(circuit, at_s, by)

    def inspected(self, circuit: str) -> None:
        """Take that somebody has looked at a relay that was stuck.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        self._cases[circuit].stuck = None

    # What is known.

    def obstacle(self, circuit: str, moment: CutFacts) -> Reason | None:
        """Return what speaks against a cut by rule now, None if nothing does.

        Raises:
            KeyError: the boat has no circuit of that name.
        """
        return self._obstacle(self._cases[circuit], moment)

    def asked_about(self, token: str) -> str | None:
        """Return the circuit of the open question with that token, None for none."""
        question = self._questions.of(token)
        return None if question is None else question.subject

    def idle_since_s(self, circuit: str) -> float | None:
        """Return since when a circuit has been idle, None if never looked at."""
        return self._cases[circuit].watch.idle_since_s

    def keep_until_s(self, circuit: str) -> float:
        """Return until when a circuit is kept; a time in the past if it is not."""
        return self._cases[circuit].keep_until_s

    def stuck(self, circuit: str) -> Trouble | None:
        """Return what is wrong with a circuit's relay, None if nothing is known to be."""
        return self._cases[circuit].stuck

    def saved_wh(self, circuit: str) -> float:
        """Return the standby energy that cuts of a circuit have saved so far, Wh."""
        return self._cases[circuit].saved_wh

    @property
    def log(self) -> tuple[LogEntry, ...]:
        """The last cuts, refusals, questions and answers, oldest first."""
        return self._log.entries

    def _note(self, outcomes: list[Outcome]) -> list[Outcome]:
        for outcome in outcomes:
            self._log.add(outcome)
        return outcomes

    def snapshot(self) -> CuttingRulesState:
        """Return the state as JSON-able data."""
        return {
            "cases": {name: case.snapshot() for name, case in self._cases.items()},
            "questions": self._questions.snapshot(),
            "resting": {key: level.snapshot() for key, level in self._resting.items()},
            "running": sorted(self._running),
            "moves": list(self._moves),
            "history": list(self._history),
            "last_s": self._last_s,
            "clock_set": None if self._clock_set is None else row(self._clock_set),
            "log": self._log.snapshot(),
        }

    def restore(self, state: object) -> None:
        """Take up a state from `snapshot`; circuits that are gone are forgotten.

        Raises:
            StateError: the state is not of the form that `snapshot` gives.
        """
        stored = checked(CuttingRulesState, state)
        for name, case in self._cases.items():
            if name in stored["cases"]:
                case.restore(stored["cases"][name])
        open_to = {name for name, case in self._cases.items() if case.forbidden is None}
        self._questions.restore(stored["questions"], open_to)
        for key, level in self._resting.items():
            level.restore(stored["resting"][key])
        names = {a.name for a in self._boat.appliances}
        self._running = frozenset(stored["running"]) & names
        self._moves = deque(
            ((name, at_s) for name, at_s in stored["moves"] if name in names),
            maxlen=_MOVES_KEPT,
        )
        self._history = deque(stored["history"], maxlen=64)
        self._last_s = stored["last_s"]
        clock_set = stored["clock_set"]
        self._clock_set = None if clock_set is None else from_row(ClockSet, clock_set)
        self._log.restore(stored["log"])
