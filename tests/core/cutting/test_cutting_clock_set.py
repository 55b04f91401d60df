"""A clock that is set: no span is what it seems, so nothing is cut on the strength of one."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import CutRule, Sensor
from custom_components.galley_loads.core.cutting import (
    Ask,
    Cut,
    QuestionOver,
    Reason,
    Refused,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.clock_steps import ClockSet
from tests.core.rigs import HOB, HOUR, Galley, asking, cooked_once, galley_boat, only

DAY = 24 * HOUR
YEARS = 3653 * DAY

each_jump = pytest.mark.parametrize("jump_s", [HOUR, DAY, YEARS, -HOUR, -DAY, -YEARS])


def clock_set(galley: Galley, jump_s: float) -> None:
    """Let the clock jump, and the engine have seen it."""
    from_s = galley.at_s
    galley.at_s += jump_s
    galley.clock_set = ClockSet(from_s, galley.at_s)


@each_jump
def test_idle_time_counts_anew_when_the_clock_was_set(jump_s: float) -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(300)
    clock_set(galley, jump_s)
    set_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - set_s == pytest.approx(10 * 60, abs=15)


@pytest.mark.parametrize("off_s", [HOUR, -HOUR, 130.0, -130.0])
def test_nothing_is_cut_while_engine_and_platform_differ(off_s: float) -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.engine_off_s = off_s
    galley.pass_time(HOUR)
    assert not only(Cut, galley.outcomes)
    assert galley.rules.obstacle("Galley 1", galley.moment()) is Reason.TIME_DIFFERS
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.TIME_DIFFERS


@each_jump
def test_rice_that_is_kept_warm_gets_its_whole_pause_anew(jump_s: float) -> None:
    rice = replace(HOB, kind=catalogue.RICE_COOKER, power_sensor=Sensor("sensor.rice"))
    galley = cooked_once(
        Galley(galley_boat(appliances=(rice,)), metered_w={"Hob": 1.0})
    )
    clock_set(galley, jump_s)
    galley.pass_time(catalogue.RICE_COOKER.traits.quiet_s - 60)
    assert not only(Cut, galley.outcomes)


@each_jump
def test_an_open_question_is_over_when_the_clock_was_set(jump_s: float) -> None:
    galley = asking(Galley(galley_boat(cut=CutRule.ASK)))
    clock_set(galley, jump_s)
    said = galley.pass_time(5)
    assert [over.token for over in only(QuestionOver, said)] == ["token-1"]
    assert len(only(Ask, galley.pass_time(HOUR))) == 1


@each_jump
def test_a_wish_to_keep_it_on_for_hours_lasts_as_many_hours(jump_s: float) -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 3 * HOUR)
    galley.pass_time(HOUR)
    clock_set(galley, jump_s)
    set_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(3 * HOUR))
    assert cut.at_s - set_s == pytest.approx(2 * HOUR, abs=30)


@each_jump
def test_what_a_cut_saves_is_counted_by_the_hours_that_passed(jump_s: float) -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(HOUR)
    before_wh = galley.rules.saved_wh("Galley 1")
    clock_set(galley, jump_s)
    galley.pass_time(2 * HOUR)
    assert galley.rules.saved_wh("Galley 1") - before_wh == pytest.approx(40, rel=0.01)
