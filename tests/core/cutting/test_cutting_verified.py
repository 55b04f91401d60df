"""Whether a cut took effect: proven, not to be told, or stuck."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import Sensor
from custom_components.galley_loads.core.cutting import (
    Cut,
    NotVerified,
    Reason,
    Refused,
    Stuck,
    Trouble,
    Unverified,
    Verified,
)
from tests.core.rigs import HOB, HOUR, KETTLE, Galley, cooked_once, galley_boat, only


def test_a_welded_contact_is_told_and_not_tried_again() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    said = galley.pass_time(HOUR)
    (cut,) = only(Cut, said)
    (stuck,) = only(Stuck, said)
    assert stuck.trouble is Trouble.DRAW_DID_NOT_FALL
    assert cut.at_s + 20 <= stuck.at_s <= cut.at_s + 30
    galley.closed = True
    assert not only(Cut, galley.pass_time(12 * HOUR, step_s=30))
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.STUCK
    assert galley.rules.saved_wh("Galley 1") == pytest.approx(0, abs=0.2)


def test_after_somebody_looked_at_the_contact_cutting_goes_on() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    galley.pass_time(HOUR)
    assert galley.rules.stuck("Galley 1") is Trouble.DRAW_DID_NOT_FALL
    galley.welded, galley.closed = False, True
    galley.rules.inspected("Galley 1")
    said = galley.pass_time(HOUR)
    assert only(Cut, said)
    assert only(Verified, said)


def test_a_relay_that_does_not_open_is_told_and_not_tried_again() -> None:
    galley = cooked_once(Galley(galley_boat(), obeys=False))
    said = galley.pass_time(12 * HOUR, step_s=10)
    assert len(only(Cut, said)) == 1
    (stuck,) = only(Stuck, said)
    assert stuck.trouble is Trouble.RELAY_DID_NOT_OPEN


def test_an_order_that_could_not_be_given_counts_as_failed() -> None:
    galley = cooked_once(Galley(galley_boat(), obeys=False))
    while not only(Cut, galley.pass_time(5)):
        pass
    (stuck,) = galley.rules.failed("Galley 1", galley.at_s)
    assert isinstance(stuck, Stuck)
    assert not only(Cut, galley.pass_time(HOUR))


def test_an_own_meter_tells_of_a_welded_contact_that_the_load_hides() -> None:
    hob = replace(HOB, power_sensor=Sensor("sensor.hob"))
    galley = Galley(
        galley_boat(appliances=(hob, KETTLE)), metered_w={"Hob": 3.0}, standby_w=3.0
    )
    cooked_once(galley)
    (stuck,) = only(Stuck, galley.pass_time(HOUR))
    assert stuck.trouble is Trouble.DRAW_DID_NOT_FALL


def test_an_own_meter_proves_a_cut_that_the_load_is_too_coarse_for() -> None:
    hob = replace(HOB, power_sensor=Sensor("sensor.hob"))
    galley = Galley(
        galley_boat(appliances=(hob, KETTLE)), metered_w={"Hob": 3.0}, standby_w=3.0
    )
    cooked_once(galley)
    while not only(Cut, galley.pass_time(5)):
        pass
    galley.metered_w["Hob"] = 0.0
    assert only(Verified, galley.pass_time(30))


def test_a_load_that_rises_in_the_same_seconds_proves_nothing() -> None:
    galley = cooked_once(Galley(galley_boat()))
    while not only(Cut, galley.pass_time(5)):
        pass
    galley.rest_w = 190.0  # the fridge starts
    (finding,) = only(NotVerified, galley.pass_time(60))
    assert finding.why is Unverified.LOAD_MOVED


def test_a_kettle_that_starts_in_the_same_seconds_proves_nothing() -> None:
    galley = cooked_once(Galley(galley_boat()))
    while not only(Cut, galley.pass_time(5)):
        pass
    galley.running["Kettle"] = 1950.0
    (finding,) = only(NotVerified, galley.pass_time(60))
    assert finding.why is Unverified.LOAD_MOVED


def test_readings_that_stop_after_a_cut_prove_nothing() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    while not only(Cut, galley.pass_time(5)):
        pass
    galley.rest_w = None
    (finding,) = only(NotVerified, galley.pass_time(300))
    assert finding.why is Unverified.READINGS_STOPPED


def test_a_slow_meter_has_its_time_before_a_cut_is_judged() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    while not only(Cut, galley.pass_time(5)):
        pass
    cut_s = galley.at_s
    while galley.at_s < cut_s + 60:
        galley.load_age_s = 1.0 + galley.at_s - cut_s + 6
        assert not galley.pass_time(5)
    galley.load_age_s = 1.0
    assert only(Stuck, galley.pass_time(10))


def test_a_meter_that_never_reports_again_leaves_a_cut_unproven() -> None:
    galley = cooked_once(Galley(galley_boat(), welded=True))
    while not only(Cut, galley.pass_time(5)):
        pass
    cut_s, said = galley.at_s, []
    while galley.at_s < cut_s + 300:
        galley.load_age_s = 1.0 + galley.at_s - cut_s + 6
        said += galley.pass_time(5)
    (finding,) = only(NotVerified, said)
    assert finding.why is Unverified.READINGS_STOPPED
