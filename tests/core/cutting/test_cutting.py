"""When an idle circuit is cut, and what people may wish."""

from dataclasses import fields
from random import Random
from typing import get_args

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, CutRule
from custom_components.galley_loads.core.cutting import (
    Answer,
    Ask,
    Asker,
    Cut,
    Kept,
    NotVerified,
    Outcome,
    Reason,
    Refused,
    Unverified,
    Verified,
)
from custom_components.galley_loads.core.kinds import catalogue
from tests.core.rigs import (
    HOUR,
    KETTLE,
    NOON_S,
    Galley,
    cooked_once,
    galley_boat,
    only,
    restarted,
)


def test_an_idle_circuit_is_cut_and_its_draw_falls() -> None:
    galley = cooked_once(Galley(galley_boat()))
    ended_s = galley.at_s
    said = galley.pass_time(HOUR)
    (cut,) = only(Cut, said)
    assert cut.circuit == "Galley 1"
    assert cut.by is Asker.RULE
    assert cut.standby_w == 20
    assert cut.at_s >= ended_s + 10 * 60
    (verified,) = only(Verified, said)
    assert verified.at_s <= cut.at_s + 20
    assert verified.fell_w == pytest.approx(20, abs=3)


def test_a_cut_waits_for_the_fans_of_the_hob_to_run_down() -> None:
    galley = Galley(galley_boat(idle_minutes=1))
    cooked_once(galley)
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 1)
    ended_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - ended_s == pytest.approx(10 * 60, abs=15)


def test_an_oven_gets_longer_to_cool_than_a_hob() -> None:
    oven = Appliance("Hob", catalogue.OVEN, 1500, 4, circuit="Galley 1")
    galley = Galley(galley_boat(appliances=(oven, KETTLE), idle_minutes=1))
    cooked_once(galley)
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 1)
    ended_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - ended_s == pytest.approx(30 * 60, abs=15)


def test_the_saving_of_a_cut_is_counted_until_the_circuit_is_closed() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(HOUR)
    (cut,) = only(Cut, galley.outcomes)
    galley.pass_time(cut.at_s + 5 * HOUR - galley.at_s)
    # 20 W that are not drawn for five hours.
    assert galley.rules.saved_wh("Galley 1") == pytest.approx(100, rel=0.01)
    galley.closed = True
    galley.pass_time(10)
    saved_wh = galley.rules.saved_wh("Galley 1")
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 2 * HOUR)
    galley.pass_time(HOUR)
    assert galley.rules.saved_wh("Galley 1") == saved_wh


def test_a_forgotten_cut_does_not_save_for_ever() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(HOUR)
    galley.pass_time(60 * HOUR, step_s=120)
    assert galley.rules.saved_wh("Galley 1") == pytest.approx(20 * 24, rel=0.02)


def test_an_unknown_standby_saves_nothing_that_could_be_counted() -> None:
    galley = cooked_once(Galley(galley_boat(), standby_known=False))
    said = galley.pass_time(3 * HOUR)
    assert only(Cut, said)
    (finding,) = only(NotVerified, said)
    assert finding.why is Unverified.TOO_SMALL_TO_SEE
    assert galley.rules.saved_wh("Galley 1") == 0


def test_a_relay_that_somebody_switches_back_on_is_left_on() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(HOUR)
    (cut,) = only(Cut, galley.outcomes)
    galley.at_s = cut.at_s + 300
    galley.closed = True
    back_s = galley.at_s
    (kept,) = only(Kept, galley.pass_time(10))
    assert kept.switched_back
    said = galley.pass_time(6 * HOUR, step_s=10)
    (cut,) = only(Cut, said)
    assert cut.at_s - back_s == pytest.approx(4 * HOUR, abs=20)


def test_a_relay_that_is_closed_the_next_morning_is_no_wish() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(HOUR)
    galley.pass_time(9 * HOUR, step_s=30)
    galley.closed = True
    said = galley.pass_time(HOUR)
    assert not only(Kept, said)
    assert only(Cut, said)


def test_a_wish_to_cut_overrides_a_keep_but_not_the_fans() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(180)
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.RUN_DOWN
    galley.pass_time(8 * 60)
    (cut,) = only(Cut, galley.follow(galley.rules.cut_now("Galley 1", galley.moment())))
    assert cut.by is Asker.PERSON


@pytest.mark.parametrize("until", [-5.0, 0.0, 8 * 86400.0, float("nan"), float("inf")])
def test_a_keep_that_makes_no_sense_is_refused(until: float) -> None:
    galley = Galley(galley_boat())
    with pytest.raises(ValueError, match="within a week"):
        galley.rules.keep("Galley 1", galley.at_s, galley.at_s + until)


def test_no_outcome_can_close_a_circuit() -> None:
    kinds = {kind.__name__ for kind in get_args(Outcome.__value__)}
    assert kinds == {
        "Cut",
        "Ask",
        "Refused",
        "Verified",
        "NotVerified",
        "Stuck",
        "Kept",
        "QuestionOver",
        "AnswerRejected",
    }
    assert {field.name for field in fields(Cut)} == {
        "circuit",
        "at_s",
        "by",
        "standby_w",
    }


@settings(max_examples=120, deadline=None)
@given(seed=st.integers(0, 10**9), rule=st.sampled_from(list(CutRule)))
def test_no_cut_while_the_hob_is_on_whatever_happens(seed: int, rule: CutRule) -> None:
    random = Random(seed)
    galley = Galley(galley_boat(cut=rule), at_s=NOON_S)
    galley.pass_time(45 * 60, step_s=30)
    for _ in range(40):
        event = random.randrange(9)
        if event == 0:
            galley.running = {"Hob": 1000.0}
        elif event == 1:
            galley.running = {}
        elif event == 2:
            galley.closed = random.choice([True, True, False, None])
        elif event == 3:
            galley.hidden_w = random.choice([0.0, 0.0, 40.0, 900.0])
        elif event == 4:
            restarted(galley)
        elif event == 5:
            galley.load_age_s = random.choice([1.0, 1.0, 90.0, 4000.0, None])
        elif event == 6:
            galley.at_s += random.choice([60.0, 4000.0])
        before = len(galley.outcomes)
        wanted = galley.moment()
        if event == 7:
            galley.follow(galley.rules.cut_now("Galley 1", wanted))
        elif event == 8:
            asks = only(Ask, galley.outcomes)
            token = asks[-1].question.token if asks else "none"
            galley.answer(token, random.choice(list(Answer)))
        galley.pass_time(random.choice([10.0, 300.0, 900.0]), step_s=10)
        cuts = only(Cut, galley.outcomes[before:])
        if rule is CutRule.NEVER or galley.running or galley.hidden_w > 500:
            assert not cuts
