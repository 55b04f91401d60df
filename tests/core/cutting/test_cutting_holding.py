"""What may go on for hours at a draw that nobody sees keeps its circuit from the rule *auto*."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, CutRule, Sensor
from custom_components.galley_loads.core.cutting import Asker, Cut, Reason, Refused
from custom_components.galley_loads.core.cutting.excess import margin_w
from custom_components.galley_loads.core.cutting.holding import hidden_run_s
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.kind import Kind
from tests.core.rigs import HOUR, Galley, galley_boat, only, restarted

BATH = Appliance("Water bath", catalogue.WATER_BATH, 1000, circuit="Galley 1")
TOASTER = Appliance("Toaster", catalogue.TOASTER, 900, circuit="Galley 1")
HEATS_S = 20 * 60.0
NINE_IN_TEN_S = catalogue.WATER_BATH.description.run_s[1]


def heated(*appliances: Appliance, **changes: CutRule) -> Galley:
    """Return a boat at rest whose bath has just heated up and is told as over."""
    galley = Galley(galley_boat(appliances=appliances, **changes))
    galley.desk.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR)
    galley.outcomes.clear()
    galley.running = {BATH.name: 1000.0}
    galley.pass_time(HEATS_S)
    galley.running = {}
    # Its heater and its pump go on, within what lamps draw.
    galley.hidden_w = 70.0
    return galley


def test_a_bath_that_holds_its_heat_unseen_is_not_cut_by_itself() -> None:
    galley = heated(BATH, cut=CutRule.AUTO)
    galley.pass_time(NINE_IN_TEN_S - HEATS_S - 120)
    assert not only(Cut, galley.outcomes)
    assert galley.desk.obstacle("Galley 1", galley.moment()) is Reason.MAY_HOLD
    reasons = [refused.reason for refused in only(Refused, galley.outcomes)]
    assert reasons.count(Reason.MAY_HOLD) == 1


def test_once_nine_in_ten_baths_are_over_it_is_cut() -> None:
    galley = heated(BATH, cut=CutRule.AUTO)
    galley.hidden_w = 0.0
    galley.pass_time(NINE_IN_TEN_S - HEATS_S + 300)
    (cut,) = only(Cut, galley.outcomes)
    assert cut.by is Asker.RULE


def test_who_is_asked_can_look_so_the_question_comes_at_once() -> None:
    galley = heated(BATH, cut=CutRule.ASK)
    galley.hidden_w = 0.0
    over_s = galley.at_s
    galley.pass_time(HOUR)
    assert galley.question().at_s - over_s == pytest.approx(10 * 60, abs=10)


def test_an_own_meter_tells_when_the_bath_is_over() -> None:
    metered = replace(BATH, power_sensor=Sensor("sensor.bath"))
    galley = heated(metered, cut=CutRule.AUTO)
    galley.hidden_w, galley.metered_w = 0.0, {BATH.name: 1.0}
    galley.pass_time(HOUR)
    assert len(only(Cut, galley.outcomes)) == 1


def test_a_restart_does_not_forget_the_bath() -> None:
    galley = restarted(heated(BATH, cut=CutRule.AUTO))
    galley.pass_time(HOUR)
    assert not only(Cut, galley.outcomes)


def test_a_bath_told_in_two_pieces_began_with_the_first() -> None:
    galley = heated(BATH, cut=CutRule.AUTO)
    galley.pass_time(300)
    galley.running = {BATH.name: 70.0}
    galley.pass_time(60)
    galley.running, galley.hidden_w = {}, 0.0
    galley.pass_time(NINE_IN_TEN_S - HEATS_S)
    assert len(only(Cut, galley.outcomes)) == 1


@pytest.mark.parametrize(
    ("kind", "rated_w", "hides"),
    [
        (catalogue.WATER_BATH, 1000, True),
        (catalogue.RICE_COOKER, 500, True),
        (catalogue.BREAD_MAKER, 500, True),
        (catalogue.TOASTER, 900, False),
        (catalogue.INDUCTION_HOB, 1800, False),
        (catalogue.OVEN, 1500, False),
        (catalogue.KETTLE, 2000, False),
    ],
)
def test_only_what_holds_its_heat_with_little_is_given_the_time(
    kind: Kind, rated_w: float, hides: bool
) -> None:
    appliance = Appliance("It", kind, rated_w)
    assert (hidden_run_s(appliance, margin_w([rated_w])) > 0) is hides


def test_a_slow_cooker_at_its_full_power_is_more_than_the_margin() -> None:
    for rated_w in (90.0, 140.0, 200.0, 300.0):
        assert margin_w([rated_w, 1500.0]) < 0.85 * rated_w
