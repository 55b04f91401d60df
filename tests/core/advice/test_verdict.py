"""The rule behind the verdict, start by start and future by future."""

import pytest

from custom_components.galley_loads.core.advice.answer import Verdict
from custom_components.galley_loads.core.advice.patience import Patience
from custom_components.galley_loads.core.advice.starts import Start
from custom_components.galley_loads.core.advice.verdict import Gain, decide

DISH_WH = 400.0
TEN = 10


def start(
    hour: float, owed_wh: float = 400.0, breaches: int = 0, refused_wh: float = 0.0
) -> Start:
    """Return a start that owes so much in each of ten futures and breaks some of them."""
    caused = tuple(i < breaches for i in range(TEN))
    return Start(
        hour * 3600.0,
        20.0,
        60.0,
        50.0,
        1.0 - breaches / TEN,
        0.0,
        refused_wh,
        owed_wh=(owed_wh,) * TEN,
        caused=caused,
        closeness=tuple(float(c) for c in caused),
    )


def decided(*starts: Start, patience=Patience.MIDDLE, without=1.0):
    return decide(starts, DISH_WH, patience, without)


def test_nothing_better_later_means_cook_now():
    decision = decided(start(0), start(1), start(2, 420.0))
    assert decision.verdict is Verdict.COOK_NOW
    assert decision.start.at_s == 0.0


def test_what_is_only_drawn_and_put_back_later_is_nothing_to_wait_for():
    # Noon draws less, but a day later the bank holds the same.
    assert decided(start(0), start(4)).verdict is Verdict.COOK_NOW


@pytest.mark.parametrize(
    ("gain_wh", "verdict"), [(27.0, Verdict.COOK_NOW), (29.0, Verdict.WAIT)]
)
def test_a_trifle_of_the_dish_is_not_worth_waiting_for(gain_wh, verdict):
    decision = decided(start(0), start(2, 400.0 - gain_wh))
    assert decision.verdict is verdict
    if verdict is Verdict.WAIT:
        assert decision.gain_wh == pytest.approx(gain_wh)


@pytest.mark.parametrize(
    ("patience", "verdict"),
    [
        (Patience.LOW, Verdict.COOK_NOW),
        (Patience.MIDDLE, Verdict.WAIT),
        (Patience.HIGH, Verdict.WAIT),
    ],
)
def test_hungry_people_wait_for_more_than_patient_ones(patience, verdict):
    # 60 Wh for five hours: 12 Wh for each.
    decision = decided(start(0), start(5, 340.0), patience=patience)
    assert decision.verdict is verdict


def test_a_gain_that_often_does_not_come_is_not_waited_for():
    now = start(0)
    uncertain = Start(
        *(7200.0, 20.0, 60.0, 50.0, 1.0, 0.0, 0.0),
        owed_wh=(0.0,) * 5 + (400.0,) * 5,
        caused=(False,) * TEN,
        closeness=(0.0,) * TEN,
    )
    assert decided(now, uncertain).verdict is Verdict.COOK_NOW


def test_a_breach_that_a_later_start_avoids_is_worth_waiting_for():
    decision = decided(start(0, breaches=4), start(3, breaches=0))
    assert decision.verdict is Verdict.WAIT
    assert decision.gains == (Gain.AVOIDS_BREACH,)


def test_between_half_and_nine_in_ten_it_is_cooked_at_a_risk_where_later_is_no_better():
    decision = decided(start(0, breaches=3), start(3, breaches=3))
    assert decision.verdict is Verdict.COOK_NOW
    assert decision.caused == pytest.approx(0.3)


def test_a_dish_that_breaks_the_reserve_at_every_start_is_held_off():
    decision = decided(start(0, breaches=8), start(2, breaches=7))
    assert decision.verdict is Verdict.HOLD_OFF
    assert decision.start.at_s == 0.0


def test_a_reserve_that_is_lost_anyway_is_no_reason_to_hold_off():
    decision = decided(start(0), start(2), without=0.1)
    assert decision.verdict is Verdict.COOK_NOW


def test_the_earliest_of_equally_good_starts_is_named():
    decision = decided(start(0), start(1, 250.5), start(1.05, 250.0))
    assert decision.start.at_s == 3600.0


def test_sun_that_would_be_turned_away_is_named_as_the_reason():
    decision = decided(start(0, refused_wh=300.0), start(2, 300.0, refused_wh=100.0))
    assert decision.verdict is Verdict.WAIT
    assert Gain.USES_REFUSED_SUN in decision.gains


def test_verdicts_have_the_contracts_names():
    assert {v.value for v in Verdict} == {"cook_now", "wait", "hold_off", "unknown"}
