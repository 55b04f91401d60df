"""The rule behind the verdict, start by start."""

import pytest

from custom_components.galley_loads.core.advice.answer import Verdict
from custom_components.galley_loads.core.advice.starts import Start
from custom_components.galley_loads.core.advice.verdict import Gain, decide


def start(
    hour: float, drawn_ah: float, chance: float = 1.0, refused_wh: float = 0.0
) -> Start:
    return Start(hour * 3600.0, drawn_ah, 60.0, 50.0, chance, 0.0, refused_wh)


def decided(*starts: Start):
    return decide(starts, dish_ah=36.0, dish_dc_wh=466.0)


def test_nothing_better_later_means_cook_now():
    decision = decided(start(0, 20.0), start(1, 20.0), start(2, 25.0))
    assert decision.verdict is Verdict.COOK_NOW
    assert decision.start.at_s == 0.0


@pytest.mark.parametrize(
    ("later_ah", "verdict"), [(17.9, Verdict.WAIT), (18.1, Verdict.COOK_NOW)]
)
def test_a_tenth_of_the_amp_hours_is_worth_waiting_for(later_ah, verdict):
    decision = decided(start(0, 20.0), start(2, later_ah))
    assert decision.verdict is verdict
    assert decision.gains == ((Gain.SPARES_BANK,) if verdict is Verdict.WAIT else ())


def test_a_trifle_is_not_worth_waiting_for():
    assert decided(start(0, 0.4), start(2, 0.0)).verdict is Verdict.COOK_NOW


def test_nine_chances_in_ten_are_needed():
    decision = decided(start(0, 20.0, 0.89), start(1, 20.0, 0.90))
    assert decision.verdict is Verdict.WAIT
    assert decision.gains == (Gain.AVOIDS_BREACH,)
    assert decision.start.at_s == 3600.0


def test_a_start_that_risks_the_reserve_is_never_waited_for():
    decision = decided(start(0, 20.0), start(2, 5.0, 0.5))
    assert decision.verdict is Verdict.COOK_NOW


def test_no_safe_start_means_hold_off():
    decision = decided(start(0, 20.0, 0.5), start(2, 5.0, 0.8))
    assert decision.verdict is Verdict.HOLD_OFF
    assert decision.start.at_s == 0.0


def test_the_earliest_of_equally_good_starts_is_named():
    decision = decided(start(0, 20.0), start(1, 10.1), start(2, 10.0), start(3, 10.0))
    assert decision.start.at_s == 3600.0


def test_sun_that_would_be_turned_away_is_worth_waiting_for():
    decision = decided(
        start(0, 20.0, refused_wh=300.0), start(2, 19.5, refused_wh=100.0)
    )
    assert decision.verdict is Verdict.WAIT
    assert Gain.USES_REFUSED_SUN in decision.gains


def test_sun_is_not_saved_at_the_price_of_more_from_the_bank():
    decision = decided(start(0, 20.0, refused_wh=300.0), start(2, 25.0, refused_wh=0.0))
    assert decision.verdict is Verdict.COOK_NOW


def test_a_twelfth_less_is_not_worth_waiting_for_in_the_worked_table():
    # A published style of decision table: costs of three actions under three weathers
    # with chances .5 .3 .2; expected costs 404, 371, 396, so waiting an hour is best.
    costs = {
        "now": (300, 420, 640),
        "wait 1 h": (180, 430, 760),
        "wait 2 h": (150, 470, 900),
    }
    chances = (0.5, 0.3, 0.2)
    expected = {
        name: sum(c * p for c, p in zip(row, chances, strict=True))
        for name, row in costs.items()
    }
    assert [round(v, 6) for v in expected.values()] == [404.0, 371.0, 396.0]
    starts = [start(hour, ah) for hour, ah in enumerate(expected.values())]
    decision = decide(starts, dish_ah=640.0, dish_dc_wh=8000.0)
    # The best is a twelfth cheaper: less than the tenth that makes waiting worth it.
    assert decision.verdict is Verdict.COOK_NOW


def test_verdicts_have_the_contracts_names():
    assert {v.value for v in Verdict} == {"cook_now", "wait", "hold_off", "unknown"}
