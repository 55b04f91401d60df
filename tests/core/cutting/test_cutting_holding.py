"""What may go on for hours at a draw that nobody sees keeps its circuit from the rule *auto*."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, CutRule, Sensor
from custom_components.galley_loads.core.cutting import Asker, Cut, Reason, Refused
from custom_components.galley_loads.core.cutting.holding import hides, off_level_w
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.kind import Kind
from tests.core.rigs import HOUR, Galley, galley_boat, only, restarted

BATH = Appliance("Water bath", catalogue.WATER_BATH, 1000, circuit="Galley 1")
METERED = replace(BATH, power_sensor=Sensor("sensor.bath"))
HEATS_S = 20 * 60.0
QUIET_S = catalogue.WATER_BATH.traits.quiet_s


def heated(*appliances: Appliance, **changes: CutRule) -> Galley:
    """Return a boat at rest whose bath has just heated up and is told as over."""
    galley = Galley(galley_boat(appliances=appliances, **changes))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    if appliances[0].power_sensor is not None:
        galley.metered_w = {BATH.name: 1.0}
    galley.pass_time(HOUR)
    galley.outcomes.clear()
    galley.running = {BATH.name: 1000.0}
    if galley.metered_w:
        galley.metered_w = {BATH.name: 1000.0}
    galley.pass_time(HEATS_S)
    galley.running = {}
    if galley.metered_w:
        galley.metered_w = {BATH.name: 1.0}
    return galley


def holding(galley: Galley, power_w: float) -> Galley:
    """Let the bath hold its heat at a power that hides among lamps."""
    galley.hidden_w = power_w
    if galley.metered_w:
        galley.metered_w = {BATH.name: power_w}
    return galley


def test_a_bath_without_a_meter_of_its_own_is_asked_about_and_not_cut_by_itself() -> (
    None
):
    galley = holding(heated(BATH, cut=CutRule.AUTO), 70.0)
    over_s = galley.at_s
    galley.pass_time(30 * HOUR, step_s=30)
    assert not only(Cut, galley.outcomes)
    assert galley.question().at_s - over_s == pytest.approx(10 * 60, abs=40)


def test_who_is_asked_can_look_so_the_question_comes_at_once() -> None:
    galley = heated(BATH, cut=CutRule.ASK)
    over_s = galley.at_s
    galley.pass_time(HOUR)
    assert galley.question().at_s - over_s == pytest.approx(10 * 60, abs=10)


@pytest.mark.parametrize("hold_w", [12.0, 40.0, 70.0])
def test_a_bath_whose_meter_shows_that_it_holds_is_never_cut(hold_w: float) -> None:
    galley = holding(heated(METERED, cut=CutRule.AUTO), hold_w)
    galley.pass_time(26 * HOUR, step_s=30)
    assert not only(Cut, galley.outcomes)
    reasons = {refused.reason for refused in only(Refused, galley.outcomes)}
    assert reasons <= {Reason.MAY_HOLD, Reason.METER_DRAWS}
    assert reasons


def test_an_own_meter_at_its_off_level_tells_when_the_bath_is_over() -> None:
    galley = holding(heated(METERED, cut=CutRule.AUTO), 40.0)
    galley.pass_time(5 * HOUR, step_s=30)
    holding(galley, 1.0)
    over_s = galley.at_s
    galley.pass_time(HOUR)
    (cut,) = only(Cut, galley.outcomes)
    assert cut.by is Asker.RULE
    assert cut.at_s - over_s == pytest.approx(QUIET_S, abs=30)


def test_a_pause_between_two_pulses_is_not_its_end() -> None:
    galley = heated(METERED, cut=CutRule.AUTO)
    for _ in range(12):
        galley.metered_w = {BATH.name: 1.0}
        galley.pass_time(QUIET_S - 60)
        galley.metered_w = {BATH.name: 30.0}
        galley.pass_time(20)
    assert not only(Cut, galley.outcomes)


def test_a_restart_does_not_forget_the_bath() -> None:
    galley = holding(heated(METERED, cut=CutRule.AUTO), 1.0)
    galley.pass_time(QUIET_S - 120)
    restarted(galley).pass_time(100)
    assert not only(Cut, galley.outcomes)
    galley.pass_time(300)
    assert len(only(Cut, galley.outcomes)) == 1


def test_after_a_time_without_a_look_the_bath_gets_its_whole_pause_anew() -> None:
    galley = holding(heated(METERED, cut=CutRule.AUTO), 1.0)
    galley.pass_time(QUIET_S - 120)
    galley.at_s += 3 * HOUR
    galley.pass_time(QUIET_S - 120)
    assert not only(Cut, galley.outcomes)


def test_a_standby_as_high_as_what_holds_cannot_be_told_from_it() -> None:
    vague = replace(METERED, standby_power_w=12.0)
    assert hides(vague)
    assert off_level_w(vague) == 0.0
    galley = holding(heated(vague, cut=CutRule.AUTO), 1.0)
    galley.pass_time(3 * HOUR)
    assert not only(Cut, galley.outcomes)
    galley.question()


def test_a_dough_that_rises_is_asked_about_whatever_its_meter_says() -> None:
    bread = replace(METERED, kind=catalogue.BREAD_MAKER)
    galley = holding(heated(bread, cut=CutRule.AUTO), 1.0)
    galley.pass_time(3 * HOUR)
    assert not only(Cut, galley.outcomes)
    galley.question()


def test_a_heater_of_water_may_pause_for_an_hour() -> None:
    heater = replace(BATH, kind=catalogue.WATER_HEATER)
    galley = heated(heater, cut=CutRule.AUTO)
    over_s = galley.at_s
    galley.pass_time(2 * HOUR)
    (cut,) = only(Cut, galley.outcomes)
    assert cut.at_s - over_s == pytest.approx(HOUR, abs=30)


@pytest.mark.parametrize(
    ("kind", "unseen"),
    [
        (catalogue.WATER_BATH, True),
        (catalogue.RICE_COOKER, True),
        (catalogue.SLOW_COOKER, True),
        (catalogue.PRESSURE_COOKER, True),
        (catalogue.COFFEE_MAKER, True),
        (catalogue.TOASTER, False),
        (catalogue.INDUCTION_HOB, False),
        (catalogue.ELECTRIC_HOB, False),
        (catalogue.OVEN, False),
        (catalogue.MICROWAVE, False),
        (catalogue.KETTLE, False),
        (catalogue.WATER_HEATER, False),
    ],
)
def test_only_what_works_with_little_needs_a_meter_of_its_own(
    kind: Kind, unseen: bool
) -> None:
    assert hides(Appliance("It", kind, 900)) is unseen
    assert not hides(Appliance("It", kind, 900, power_sensor=Sensor("sensor.it")))
