"""Power that comes and goes by little keeps the circuit that may be behind it.

A bread maker is never cut without a question: that comes where another kind would be cut.
"""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, CutRule, Sensor
from custom_components.galley_loads.core.cutting import (
    Answer,
    Ask,
    Asker,
    Cut,
    Reason,
    Refused,
)
from custom_components.galley_loads.core.cutting.restless import works_at_little
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.kind import Kind
from tests.core.rigs import (
    HOUR,
    KETTLE,
    Galley,
    asking,
    cooked_once,
    galley_boat,
    only,
    restarted,
)

BREAD = Appliance("Bread maker", catalogue.BREAD_MAKER, 600, circuit="Galley 1")
MOTOR_W = 70.0
TOASTER = Appliance("Toaster", catalogue.TOASTER, 900, circuit="Galley 1")


def bakery(**changes) -> Galley:
    """Return a boat that is known at rest, the bread maker's circuit just closed."""
    galley = Galley(galley_boat(appliances=(BREAD, KETTLE), **changes))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR - 60)
    galley.closed = False
    galley.pass_time(60)
    galley.closed = True
    galley.outcomes.clear()
    return galley


def comes_and_goes(
    galley: Galley, seconds: float, draw_w: float = MOTOR_W, each_s: float = 20.0
) -> None:
    """Let something that inference does not see run in bursts."""
    until_s = galley.at_s + seconds
    while galley.at_s < until_s:
        galley.hidden_w = draw_w
        galley.pass_time(each_s)
        galley.hidden_w = 0.0
        galley.pass_time(each_s)


def obstacle(galley: Galley) -> Reason | None:
    return galley.rules.obstacle("Galley 1", galley.moment())


@pytest.mark.parametrize("draw_w", [40.0, 55.0, 83.0, 110.0])
def test_a_bread_maker_that_kneads_keeps_its_circuit(draw_w: float) -> None:
    """Its motor draws less than the margin over rest, and inference overlooks it."""
    galley = bakery()
    comes_and_goes(galley, 20 * 60, draw_w)
    assert not only(Cut, galley.outcomes)
    assert obstacle(galley) is Reason.DRAW_RESTLESS
    (refused,) = only(Refused, galley.outcomes)[-1:]
    assert (refused.by, refused.reason) == (Asker.RULE, Reason.DRAW_RESTLESS)


def test_a_motor_that_came_and_went_and_now_stands_is_still_on() -> None:
    # First it stirs in bursts, then the dough rests, then it kneads in one go.
    galley = bakery()
    comes_and_goes(galley, 4 * 60)
    galley.pass_time(5 * 60)
    galley.hidden_w = MOTOR_W
    galley.pass_time(12 * 60)
    assert obstacle(galley) is Reason.DRAW_RESTLESS
    assert not only(Cut, galley.outcomes)
    galley.hidden_w, ended_s = 0.0, galley.at_s
    (ask,) = only(Ask, galley.pass_time(HOUR))
    assert ask.at_s - ended_s == pytest.approx(10 * 60, abs=10)


def test_it_is_idle_ten_minutes_after_the_last_burst() -> None:
    galley = bakery()
    comes_and_goes(galley, 15 * 60)
    ended_s = galley.at_s - 20
    (ask,) = only(Ask, galley.pass_time(HOUR))
    assert ask.at_s - ended_s == pytest.approx(10 * 60, abs=10)


def test_a_lamp_and_a_pump_that_runs_twice_do_not_delay_a_cut() -> None:
    appliances = (replace(BREAD, name="Hob"), KETTLE)
    galley = cooked_once(Galley(galley_boat(appliances=appliances, cut=CutRule.ASK)))
    ended_s = galley.at_s
    galley.rest_w += 25
    comes_and_goes(galley, 80)
    galley.pass_time(HOUR)
    assert galley.question().at_s - ended_s == pytest.approx(10 * 60, abs=10)


def test_a_toaster_does_not_work_at_so_little() -> None:
    galley = Galley(galley_boat(appliances=(TOASTER, KETTLE)))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR - 120)
    comes_and_goes(galley, 20 * 60)
    assert only(Cut, galley.outcomes)


@pytest.mark.parametrize(
    ("kind", "little"),
    [
        (catalogue.BREAD_MAKER, True),
        (catalogue.WATER_BATH, True),
        (catalogue.RICE_COOKER, True),
        (catalogue.SLOW_COOKER, True),
        (catalogue.COFFEE_MAKER, True),
        (catalogue.OVEN, True),
        (catalogue.PRESSURE_COOKER, True),
        (catalogue.MICROWAVE, True),
        (catalogue.TOASTER, False),
        (catalogue.WATER_HEATER, False),
    ],
)
def test_who_works_at_little_follows_from_what_the_kinds_do(
    kind: Kind, little: bool
) -> None:
    assert works_at_little(Appliance("It", kind, 1000), 200.0) is little


def test_an_own_meter_at_rest_shows_that_what_comes_and_goes_is_another() -> None:
    bread = replace(BREAD, power_sensor=Sensor("sensor.bread"))
    galley = Galley(
        galley_boat(appliances=(bread, KETTLE)), metered_w={"Bread maker": 1.0}
    )
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR - 120)
    comes_and_goes(galley, 20 * 60)
    assert only(Ask, galley.outcomes)


def test_a_run_elsewhere_that_pulses_is_no_motor_here() -> None:
    """Though inference hears of each pulse only after the meter has shown it."""
    rice = Appliance("Rice cooker", catalogue.RICE_COOKER, 2000, circuit="Galley 2")
    galley = Galley(galley_boat(appliances=(BREAD, rice)))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR - 600)
    ready_s = galley.at_s + 600
    for _ in range(40):
        for inferred_w, late_w in ((0.0, 90.0), (90.0, 0.0), (90.0, -90.0), (0.0, 0.0)):
            galley.running["Rice cooker"], galley.hidden_w = inferred_w, late_w
            galley.pass_time(5 if late_w else 15)
    (ask,) = only(Ask, galley.outcomes)
    assert ask.at_s - ready_s < 60


def test_a_motor_is_seen_beside_a_steady_run_elsewhere() -> None:
    slow = Appliance("Slow cooker", catalogue.SLOW_COOKER, 2000, circuit="Galley 2")
    galley = Galley(galley_boat(appliances=(BREAD, slow)))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + HOUR)
    galley.pass_time(HOUR - 240)
    galley.running["Slow cooker"] = 1500.0
    galley.pass_time(120)
    comes_and_goes(galley, 20 * 60)
    assert not only(Cut, galley.outcomes)
    assert obstacle(galley) is Reason.DRAW_RESTLESS


def test_what_swung_while_the_relay_was_open_is_not_on_the_circuit() -> None:
    galley = bakery()
    galley.closed = False
    comes_and_goes(galley, 20 * 60)
    galley.closed, closed_s = True, galley.at_s
    galley.pass_time(5)
    assert obstacle(galley) is Reason.IDLE_TOO_SHORT
    (ask,) = only(Ask, galley.pass_time(HOUR))
    assert ask.at_s - closed_s == pytest.approx(10 * 60, abs=10)


def test_a_boat_that_is_restless_anyway_is_learnt_while_the_relay_is_open() -> None:
    galley = bakery()
    galley.closed = False
    comes_and_goes(galley, 8 * HOUR, each_s=70)  # four or five starts in ten minutes
    galley.closed = True
    comes_and_goes(galley, HOUR, each_s=70)
    assert only(Ask, galley.outcomes)


def test_a_boat_that_never_rests_is_never_cut() -> None:
    galley = bakery()
    galley.closed = False
    comes_and_goes(galley, 8 * HOUR, each_s=15)
    galley.closed = True
    comes_and_goes(galley, HOUR, each_s=15)
    assert not only(Cut, galley.outcomes)


def test_a_run_that_is_taken_back_at_once_does_not_hide_what_swung() -> None:
    # Inference sees a bread maker for two minutes, which no bread maker runs.
    galley = bakery()
    comes_and_goes(galley, 3 * 60)
    galley.running["Bread maker"] = MOTOR_W
    galley.pass_time(110)
    galley.running.clear()
    assert obstacle(galley) is Reason.DRAW_RESTLESS


def test_pulses_of_a_run_that_inference_saw_do_not_delay_a_cut() -> None:
    rice = replace(BREAD, name="Rice cooker", kind=catalogue.RICE_COOKER)
    galley = Galley(galley_boat(appliances=(rice, KETTLE), cut=CutRule.ASK))
    galley.pass_time(HOUR)
    for _ in range(40):
        galley.running["Rice cooker"] = 590.0
        galley.pass_time(20)
        galley.running["Rice cooker"] = 0.0
        galley.pass_time(20)
    galley.running.clear()
    galley.pass_time(150)
    (cut,) = only(Cut, galley.rules.cut_now("Galley 1", galley.moment()))
    assert cut.by is Asker.PERSON


def test_neither_an_answer_nor_a_button_passes_over_it() -> None:
    bread = replace(BREAD, name="Hob")
    galley = asking(Galley(galley_boat(appliances=(bread, KETTLE), cut=CutRule.ASK)))
    token = galley.question().question.token
    comes_and_goes(galley, 4 * 60)
    galley.pass_time(5 * 60)  # the dough rests
    for said in (
        galley.rules.cut_now("Galley 1", galley.moment()),
        galley.answer(token, Answer.CUT),
    ):
        assert not only(Cut, said)
        (refused,) = only(Refused, said)
        assert refused.reason is Reason.DRAW_RESTLESS
    galley.pass_time(5 * 60)
    assert only(Cut, galley.rules.cut_now("Galley 1", galley.moment()))


def test_what_came_and_went_is_remembered_over_a_restart() -> None:
    galley = bakery()
    comes_and_goes(galley, 4 * 60)
    before = galley.rules.snapshot()
    restarted(galley)
    assert galley.rules.snapshot() == before
    assert obstacle(galley) is Reason.DRAW_RESTLESS
