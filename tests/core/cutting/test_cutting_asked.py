"""Questions to the crew: asked once, answered once, across restarts."""

import pytest

from custom_components.galley_loads.core.boat.boat import CutRule
from custom_components.galley_loads.core.cutting import (
    Answer,
    AnswerRejected,
    Ask,
    Asker,
    Cut,
    Kept,
    QuestionOver,
    Reason,
    Refused,
    Stuck,
    Trouble,
    Verified,
)
from custom_components.galley_loads.core.cutting.cut_log import MOST_ENTRIES
from custom_components.galley_loads.core.cutting.questions import AnswerProblem
from tests.core.rigs import (
    HOUR,
    Galley,
    asking,
    cooked_once,
    galley_boat,
    only,
    restarted,
)


def test_a_circuit_with_the_ask_rule_is_asked_about_once() -> None:
    galley = cooked_once(Galley(galley_boat(cut=CutRule.ASK)))
    galley.pass_time(8 * HOUR, step_s=15)
    ask = galley.question()
    assert ask.standby_w == 20
    (over,) = only(QuestionOver, galley.outcomes)
    assert over.at_s - ask.at_s == pytest.approx(2 * HOUR, abs=30)
    assert not only(Cut, galley.outcomes)


def test_after_another_meal_it_is_asked_again() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    first = galley.question()
    galley.running["Hob"] = 900
    (over,) = only(QuestionOver, galley.pass_time(10))
    assert over.token == first.question.token
    galley.running.clear()
    (second,) = only(Ask, galley.pass_time(HOUR))
    assert second.question.token != first.question.token


def test_the_answer_cut_cuts() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    said = galley.answer(galley.question().question.token, Answer.CUT)
    (cut,) = only(Cut, said)
    assert cut.by is Asker.ANSWER
    assert only(QuestionOver, said)
    assert only(Verified, galley.pass_time(60))


def test_the_answer_keep_keeps_for_an_hour_and_asks_no_more() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    said = galley.answer(galley.question().question.token, Answer.KEEP)
    (kept,) = only(Kept, said)
    assert kept.until_s - kept.at_s == HOUR
    assert galley.rules.keep_until_s("Galley 1") == kept.until_s
    assert not only(Ask, galley.pass_time(6 * HOUR, step_s=15))


def test_a_replayed_answer_does_nothing() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    galley.answer(token, Answer.KEEP)
    galley.outcomes.clear()
    galley.pass_time(3 * HOUR, step_s=15)
    (rejected,) = galley.answer(token, Answer.CUT)
    assert isinstance(rejected, AnswerRejected)
    assert rejected.problem is AnswerProblem.UNKNOWN
    assert galley.closed


def test_a_late_answer_does_nothing() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    galley.at_s += 3 * HOUR  # nobody looked meanwhile
    (rejected,) = galley.answer(token, Answer.CUT)
    assert isinstance(rejected, AnswerRejected)
    assert rejected.problem is AnswerProblem.EXPIRED


@pytest.mark.parametrize("token", ["", "token-2", "Galley 1", "tökén", "token-1\x00"])
def test_an_answer_from_nowhere_does_nothing(token: str) -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    (rejected,) = galley.answer(token, Answer.CUT)
    assert isinstance(rejected, AnswerRejected)
    assert galley.closed


def test_an_answer_is_not_obeyed_when_somebody_has_begun_to_cook() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    galley.hidden_w = 1200  # the hob has just been turned on; no run is known yet
    galley.pass_time(5)
    said = galley.answer(token, Answer.CUT)
    assert not only(Cut, said)
    (refused,) = only(Refused, said)
    assert refused.reason is Reason.DRAW_UNEXPLAINED


def test_an_answer_after_a_restart_belongs_to_its_question() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    restarted(galley)
    galley.pass_time(30)
    assert only(Cut, galley.answer(token, Answer.CUT))


def test_an_answer_before_the_first_reading_after_a_restart_cuts_nothing() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    restarted(galley)
    galley.closed = galley.load_age_s = None
    said = galley.answer(token, Answer.CUT)
    assert not only(Cut, said)
    (refused,) = only(Refused, said)
    assert refused.reason is Reason.RELAY_UNKNOWN


def test_a_question_about_a_circuit_that_may_no_longer_be_cut_is_closed() -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    token = galley.question().question.token
    restarted(galley, galley_boat(cut=CutRule.NEVER))
    (rejected,) = galley.answer(token, Answer.CUT)
    assert isinstance(rejected, AnswerRejected)


def test_a_stuck_relay_is_still_known_after_a_restart() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    galley.pass_time(HOUR)
    restarted(galley)
    assert galley.rules.stuck("Galley 1") is Trouble.DRAW_DID_NOT_FALL
    galley.closed = True
    assert not only(Cut, galley.pass_time(2 * HOUR))


def test_a_cut_is_judged_across_a_restart() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    while not only(Cut, galley.pass_time(5)):
        pass
    restarted(galley)
    assert only(Stuck, galley.pass_time(60))


def test_after_a_long_sleep_idle_time_counts_anew() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(9 * 60)
    restarted(galley)
    galley.at_s += 5 * HOUR
    woke_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - woke_s == pytest.approx(10 * 60, abs=10)


def test_saving_and_log_survive_a_restart() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(3 * HOUR)
    saved_wh, log = galley.rules.saved_wh("Galley 1"), galley.rules.log
    restarted(galley)
    assert galley.rules.saved_wh("Galley 1") == saved_wh > 0
    assert galley.rules.log == log
    assert [entry.what for entry in log][-2:] == ["cut", "verified"]


def test_the_log_is_bounded() -> None:
    galley = Galley(galley_boat())
    for _ in range(3 * MOST_ENTRIES):
        galley.rules.cut_now("Galley 1", galley.moment())
    assert len(galley.rules.log) == MOST_ENTRIES
