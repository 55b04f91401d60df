"""What is not cut, each for its own reason."""

from dataclasses import replace
from datetime import time

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, CutRule, Sensor
from custom_components.galley_loads.core.boat.quiet_hours import QuietHours
from custom_components.galley_loads.core.cutting import Ask, Asker, Cut, Reason, Refused
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.kinds.traits import MayCut
from tests.core.rigs import (
    HOB,
    HOUR,
    KETTLE,
    NOON_S,
    Galley,
    cooked_once,
    galley_boat,
    only,
)


@pytest.mark.parametrize(
    ("boat", "reason"),
    [
        (galley_boat(relay=None), Reason.NO_RELAY),
        (galley_boat(cut=CutRule.NEVER), Reason.NEVER),
        (galley_boat(other_loads=True), Reason.OTHER_LOADS),
        (galley_boat(appliances=(KETTLE,)), Reason.NO_APPLIANCE),
        (
            galley_boat(
                appliances=(
                    HOB,
                    Appliance("Pump", catalogue.OTHER, 300, circuit="Galley 1"),
                )
            ),
            Reason.NOT_GALLEY,
        ),
        (galley_boat(second_relay="switch.galley_1"), Reason.SHARED_RELAY),
    ],
)
def test_what_the_boats_description_forbids_is_never_cut(boat, reason) -> None:
    galley = Galley(boat)
    galley.pass_time(3 * HOUR)
    assert not only(Cut, galley.outcomes)
    assert not only(Ask, galley.outcomes)
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert (refused.by, refused.reason) == (Asker.PERSON, reason)


def test_every_kind_but_other_may_lose_its_supply() -> None:
    never = [kind for kind in KINDS if kind.traits.may_cut is MayCut.NEVER]
    assert never == [catalogue.OTHER]


def refusal(galley: Galley) -> Reason:
    """Let two hours pass and return the reason for which nothing was cut."""
    said = galley.pass_time(2 * HOUR)
    assert not only(Cut, said)
    (refused,) = only(Refused, said)
    assert refused.by is Asker.RULE
    assert galley.rules.obstacle("Galley 1", galley.moment()) is refused.reason
    return refused.reason


def test_a_kept_circuit_is_not_cut_before_its_time() -> None:
    galley = cooked_once(Galley(galley_boat()))
    until_s = galley.at_s + 2.5 * HOUR
    galley.rules.keep("Galley 1", galley.at_s, until_s)
    assert refusal(galley) is Reason.KEPT
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s == pytest.approx(until_s, abs=10)


def test_nothing_is_cut_in_quiet_hours_if_the_owner_wants_it_so() -> None:
    quiet = QuietHours(time(11), time(18))
    galley = cooked_once(Galley(galley_boat(), quiet, cut_in_quiet_hours=False))
    assert refusal(galley) is Reason.QUIET_HOURS


def test_quiet_hours_hold_questions_but_need_not_hold_cuts() -> None:
    quiet = QuietHours(time(11), time(18))
    galley = cooked_once(Galley(galley_boat(), quiet))
    assert only(Cut, galley.pass_time(HOUR))
    galley = cooked_once(Galley(galley_boat(cut=CutRule.ASK), quiet))
    assert not only(Ask, galley.pass_time(2 * HOUR))
    (ask,) = only(Ask, galley.pass_time(3 * HOUR))
    assert ask.at_s == pytest.approx(NOON_S + 6 * HOUR, abs=10)


def test_a_running_appliance_keeps_its_circuit() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.running["Hob"] = 900
    assert not galley.pass_time(2 * HOUR)
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.RUN_OPEN


def test_an_appliance_that_is_probably_over_but_may_go_on_keeps_its_circuit() -> None:
    # It is shown as off: between two pulses of keeping warm it draws as little.
    galley = cooked_once(Galley(galley_boat()))
    galley.silent.add("Hob")
    assert not galley.pass_time(2 * HOUR)
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.RUN_OPEN
    galley.silent.clear()
    assert only(Cut, galley.pass_time(HOUR))


def test_power_that_no_run_explains_keeps_the_circuit() -> None:
    # Inference sees nothing, but the boat draws 800 W more than at rest.
    galley = cooked_once(Galley(galley_boat()))
    galley.hidden_w = 800
    assert refusal(galley) is Reason.DRAW_UNEXPLAINED


def test_a_load_that_nobody_named_keeps_the_circuit() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.unnamed_w = 700
    assert refusal(galley) is Reason.DRAW_UNEXPLAINED


def test_cooking_that_nobody_sees_does_not_pass_for_a_boat_at_rest() -> None:
    galley = Galley(galley_boat())
    galley.pass_time(240)
    galley.hidden_w = 1500
    galley.pass_time(8 * HOUR, step_s=30)
    assert not only(Cut, galley.outcomes)
    galley.hidden_w = 0
    assert only(Cut, galley.pass_time(HOUR))


def test_a_boat_that_is_met_cooking_is_learnt_once_it_rests() -> None:
    galley = Galley(galley_boat(cut=CutRule.ASK))
    galley.hidden_w = 1500
    galley.pass_time(40 * 60)
    galley.hidden_w = 0
    galley.pass_time(HOUR)
    galley.hidden_w = 600
    galley.pass_time(5)
    reason = galley.rules.obstacle("Galley 1", galley.moment())
    assert reason is Reason.DRAW_UNEXPLAINED


def test_a_lying_load_meter_is_found_out_by_the_bank() -> None:
    galley = Galley(galley_boat(), bank_w=145)
    cooked_once(galley)
    galley.bank_w = 1400  # the load's meter goes on telling 110 W
    assert refusal(galley) is Reason.DRAW_UNEXPLAINED


def test_an_own_meter_that_shows_draw_keeps_the_circuit() -> None:
    hob = replace(HOB, power_sensor=Sensor("sensor.hob"))
    galley = Galley(galley_boat(appliances=(hob, KETTLE)), metered_w={"Hob": 20.0})
    cooked_once(galley)
    galley.metered_w["Hob"] = 300.0
    assert refusal(galley) is Reason.METER_DRAWS


def test_an_own_meter_that_lies_does_not_outvote_the_boats_load() -> None:
    hob = replace(HOB, power_sensor=Sensor("sensor.hob"))
    galley = Galley(galley_boat(appliances=(hob, KETTLE)), metered_w={"Hob": 0.0})
    cooked_once(galley)
    galley.hidden_w = 1500
    assert refusal(galley) is Reason.DRAW_UNEXPLAINED


@pytest.mark.parametrize(
    ("power_w", "age_s"), [(None, 30.0), (0.0, None), (0.0, 7200.0)]
)
def test_an_own_meter_that_fell_silent_keeps_the_circuit(power_w, age_s) -> None:
    hob = replace(HOB, power_sensor=Sensor("sensor.hob"))
    galley = Galley(galley_boat(appliances=(hob, KETTLE)), metered_w={"Hob": 20.0})
    cooked_once(galley)
    galley.metered_w["Hob"], galley.meter_age_s = power_w, age_s
    assert refusal(galley) is Reason.METER_STALE


@pytest.mark.parametrize("age_s", [None, 300.0, 5000.0])
def test_readings_that_stop_keep_the_circuit(age_s) -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.load_age_s = age_s
    assert refusal(galley) is Reason.READINGS_STALE


def test_a_load_that_is_not_measured_keeps_the_circuit() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.rest_w = None
    assert refusal(galley) is Reason.READINGS_STALE


def test_idle_time_counts_anew_after_readings_were_lost() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.rest_w = None
    galley.pass_time(HOUR)
    galley.rest_w, back_s = 110.0, galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - back_s == pytest.approx(10 * 60, abs=10)


def test_a_relay_that_does_not_say_where_it_is_keeps_the_circuit() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.closed = None
    assert refusal(galley) is Reason.RELAY_UNKNOWN


def test_a_boat_that_is_not_known_at_rest_is_left_alone() -> None:
    galley = Galley(galley_boat(idle_minutes=5))
    said = galley.pass_time(25 * 60)
    assert [refused.reason for refused in only(Refused, said)] == [
        Reason.RESTING_UNKNOWN
    ]
    assert not only(Cut, said)


def test_an_open_circuit_cannot_be_cut_again() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.closed = False
    assert not galley.pass_time(2 * HOUR)
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.ALREADY_OPEN


def test_a_cut_that_is_being_checked_is_not_repeated() -> None:
    galley = cooked_once(Galley(galley_boat(), obeys=False))
    while not only(Cut, galley.pass_time(5)):
        pass
    (refused,) = only(Refused, galley.rules.cut_now("Galley 1", galley.moment()))
    assert refused.reason is Reason.CHECKING


def test_pulses_that_inference_misses_keep_the_circuit_from_being_idle() -> None:
    galley = cooked_once(Galley(galley_boat()))
    for _ in range(90):
        galley.hidden_w = 0
        galley.pass_time(50)
        galley.hidden_w = 900
        galley.pass_time(10)
    assert not only(Cut, galley.outcomes)


def test_one_motors_start_does_not_delay_a_cut() -> None:
    galley = cooked_once(Galley(galley_boat()))
    ended_s = galley.at_s
    galley.pass_time(400, step_s=2)
    galley.hidden_w = 900
    galley.pass_time(2, step_s=2)
    galley.hidden_w = 0
    (cut,) = only(Cut, galley.pass_time(HOUR, step_s=2))
    assert cut.at_s - ended_s < 11 * 60


def test_a_kettle_on_another_circuit_is_no_reason_to_keep_this_one() -> None:
    rice = Appliance("Rice cooker", catalogue.RICE_COOKER, 400, circuit="Galley 2")
    galley = cooked_once(Galley(galley_boat(appliances=(HOB, rice))))
    ended_s = galley.at_s
    galley.pass_time(300)
    galley.hidden_w = 1080  # inference needs some seconds to name it
    galley.pass_time(15)
    galley.hidden_w, galley.running["Rice cooker"] = 0, 1080
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - ended_s < 12 * 60


def test_a_run_that_may_be_this_circuits_own_in_truth_keeps_it() -> None:
    # A kettle of 2,000 W and a hob of 1,800 W are easily taken for each other.
    galley = cooked_once(Galley(galley_boat()))
    galley.pass_time(300)
    galley.running["Kettle"] = 1750
    assert not galley.pass_time(2 * HOUR)
    obstacle = galley.rules.obstacle("Galley 1", galley.moment())
    assert obstacle is Reason.RUN_DOUBTFUL
    galley.running.clear()
    ended_s = galley.at_s
    (cut,) = only(Cut, galley.pass_time(HOUR))
    assert cut.at_s - ended_s == pytest.approx(10 * 60, abs=15)


def test_a_hob_at_a_low_level_may_be_taken_for_a_toaster() -> None:
    toaster = Appliance("Toaster", catalogue.TOASTER, 900, circuit="Galley 2")
    galley = cooked_once(Galley(galley_boat(appliances=(HOB, toaster))))
    galley.running["Toaster"] = 880
    assert not galley.pass_time(HOUR)
    obstacle = galley.rules.obstacle("Galley 1", galley.moment())
    assert obstacle is Reason.RUN_DOUBTFUL


def test_a_kettle_with_its_own_meter_is_taken_for_nothing_else() -> None:
    kettle = replace(KETTLE, power_sensor=Sensor("sensor.kettle"))
    galley = cooked_once(
        Galley(galley_boat(appliances=(HOB, kettle)), metered_w={"Kettle": 0.0})
    )
    galley.running["Kettle"] = galley.metered_w["Kettle"] = 1950.0
    assert only(Cut, galley.pass_time(HOUR))


def test_nobody_is_asked_about_a_circuit_that_draws_nothing() -> None:
    galley = cooked_once(Galley(galley_boat(cut=CutRule.ASK), likely_w=1.0))
    assert not galley.pass_time(3 * HOUR)
    obstacle = galley.rules.obstacle("Galley 1", galley.moment())
    assert obstacle is Reason.NOTHING_TO_SAVE
    assert only(Cut, galley.rules.cut_now("Galley 1", galley.moment()))


def test_a_refusal_is_told_once_per_idle_spell_and_reason() -> None:
    galley = cooked_once(Galley(galley_boat()))
    galley.hidden_w = 800
    assert len(only(Refused, galley.pass_time(3 * HOUR, step_s=30))) == 1
    galley.hidden_w = 0
    galley.running["Hob"] = 500
    galley.pass_time(300)
    galley.running.clear()
    galley.hidden_w = 800
    assert len(only(Refused, galley.pass_time(HOUR, step_s=30))) == 1


def test_a_new_permanent_load_becomes_the_boats_rest_in_time() -> None:
    galley = Galley(galley_boat(cut=CutRule.NEVER))
    galley.pass_time(HOUR, step_s=30)
    galley.hidden_w = 300
    galley.pass_time(9 * HOUR, step_s=30)
    assert galley.rules.obstacle("Galley 1", galley.moment()) is Reason.NEVER
    assert galley.rules.idle_since_s("Galley 1") < galley.at_s - 10 * 60
