"""What is said of appliances, meals and circuits: once, and taken back when over."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance
from custom_components.galley_loads.core.cutting import QuestionOver, Stuck, Trouble
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.meals.meal_builder import HOT_DRINK
from custom_components.galley_loads.core.occasions.meal_occurrences import PlannedMeal
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.language import alert_texts
from tests.core.occasions.alert_rigs import (
    HEATING,
    HOLDING,
    HOUR,
    MINUTE,
    QUIET,
    Watch,
    ask,
    clears,
    fleet_boat,
    meal,
    run_of,
    says,
)
from tests.core.rigs import NOON_S
from tests.said import all_said


def test_rice_is_done_when_the_cooker_begins_to_keep_warm() -> None:
    watch = Watch()
    watch.on["Rice cooker"] = (480, HEATING)
    assert not watch.pass_time(25 * MINUTE)
    watch.on["Rice cooker"] = (40, HOLDING)
    (say,) = says(watch.pass_time(2 * MINUTE))
    assert (say.kind, say.subject) == (OccurrenceKind.FINISHED, "Rice cooker")
    assert say.title == "Rice cooker is done"
    assert say.message == "It took 25 min. It keeps warm now."
    watch.on.clear()
    assert not says(watch.pass_time(HOUR))


def test_rice_that_soaks_is_not_done_before_it_was_cooked() -> None:
    watch = Watch()
    watch.on["Rice cooker"] = (480, HEATING)
    watch.pass_time(MINUTE)
    watch.on["Rice cooker"] = (20, HOLDING)
    assert not watch.pass_time(20 * MINUTE)
    watch.on["Rice cooker"] = (480, HEATING)
    assert not watch.pass_time(20 * MINUTE)
    watch.on["Rice cooker"] = (40, HOLDING)
    (say,) = says(watch.pass_time(2 * MINUTE))
    assert say.message == "It took 41 min. It keeps warm now."


def test_bread_is_done_when_its_maker_stops() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(3 * HOUR)
    watch.on.clear()
    assert not watch.pass_time(14 * MINUTE)  # dough may rest as long
    (say,) = says(watch.pass_time(3 * MINUTE))
    assert say.title == "Bread maker is done"
    assert clears(watch.pass_time(3 * HOUR)) == [say.tag]


@pytest.mark.parametrize(("rated_w", "said"), [(690, 0), (900, 1)])
def test_bread_is_not_said_to_be_done_where_another_has_its_power(
    rated_w: float, said: int
) -> None:
    boat = fleet_boat()
    plate = Appliance("Plate", catalogue.ELECTRIC_HOB, rated_w, circuit="Galley 1")
    watch = Watch(replace(boat, appliances=(*boat.appliances, plate)))
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(3 * HOUR)
    watch.on.clear()
    assert len(says(watch.pass_time(HOUR))) == said


def test_bread_in_an_hour_is_somebody_elses_run_where_bread_takes_three() -> None:
    watch = Watch()
    for minutes in (200, 210, 190, 205):
        watch.alerts.settle_run(run_of("Bread maker", minutes))
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(80 * MINUTE)
    watch.on.clear()
    assert not watch.pass_time(HOUR)


def test_done_is_taken_back_when_the_next_run_begins() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(3 * HOUR)
    watch.on.clear()
    watch.pass_time(20 * MINUTE)
    watch.on["Bread maker"] = (300, HEATING)
    assert clears(watch.pass_time(MINUTE)) == ["finished:Bread maker"]


def test_a_pause_does_not_finish_a_run() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(HOUR)
    start_s = watch.starts["Bread maker"]
    watch.on.clear()
    assert not watch.pass_time(70)
    watch.on["Bread maker"], watch.starts["Bread maker"] = (300, HEATING), start_s
    assert not watch.pass_time(HOUR)


def test_a_run_that_turns_out_to_be_another_appliances_is_not_finished() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (1500, HEATING)
    watch.pass_time(4 * MINUTE)
    start_s = watch.starts["Bread maker"]
    watch.on = {"Oven": (1500, HEATING)}
    watch.starts["Oven"] = start_s
    assert not watch.pass_time(20 * MINUTE)


def test_a_run_that_may_go_on_under_another_name_is_not_finished() -> None:
    # What was told of the bread maker may be the rice cooker all along.
    watch = Watch()
    watch.on["Bread maker"] = (500, HEATING)
    watch.pass_time(2 * HOUR)
    watch.on = {"Rice cooker": (480, HEATING)}
    watch.pass_time(MINUTE)
    watch.on.clear()
    assert not says(watch.pass_time(HOUR), OccurrenceKind.FINISHED)


def test_a_run_that_may_go_on_without_a_name_is_not_finished() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (500, HEATING)
    watch.pass_time(2 * HOUR)
    watch.on.clear()
    watch.pass_time(5 * MINUTE)
    watch.unnamed_w = 500
    watch.pass_time(MINUTE)
    watch.unnamed_w = 0
    assert not watch.pass_time(HOUR)


def test_a_doubtful_run_is_not_talked_about() -> None:
    watch = Watch(confidence=0.4)
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(HOUR)
    watch.on.clear()
    assert not watch.pass_time(HOUR)


@pytest.mark.parametrize("name", ["Kettle", "Hob", "Oven"])
def test_what_the_cook_turns_off_is_not_reported_as_done(name: str) -> None:
    watch = Watch()
    watch.on[name] = (1400, HEATING)
    watch.pass_time(4 * MINUTE)
    watch.on.clear()
    assert not watch.pass_time(HOUR)


@pytest.mark.parametrize("name", ["Oven", "Bath"])
def test_an_oven_or_a_bath_tells_when_it_is_hot(name: str) -> None:
    watch = Watch()
    watch.on[name] = (1000, HEATING)
    watch.pass_time(12 * MINUTE)
    watch.on[name] = (300, HOLDING)
    (say,) = says(watch.pass_time(2 * MINUTE))
    assert say.kind is OccurrenceKind.AT_TEMPERATURE
    assert say.message == "It took 12 min to heat up."
    assert not says(watch.pass_time(HOUR))
    watch.on.clear()
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


def test_one_off_time_of_the_heater_is_not_yet_a_temperature() -> None:
    watch = Watch()
    watch.on["Oven"] = (1500, HEATING)
    watch.pass_time(6 * MINUTE)
    watch.on["Oven"] = (30, HOLDING)
    watch.pass_time(30)
    watch.on["Oven"] = (1500, HEATING)
    assert not watch.pass_time(5 * MINUTE)


def test_an_appliance_left_running_beyond_its_habit_is_reported_once() -> None:
    watch = Watch()
    for minutes in (18, 22, 25, 30, 21, 24, 19, 26):
        watch.alerts.settle_run(run_of("Hob", minutes))
    watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(50 * MINUTE)
    (say,) = says(watch.pass_time(4 * HOUR))
    assert say.kind is OccurrenceKind.LEFT_RUNNING
    assert say.urgent
    assert say.message.startswith("It has been on for 1 h.")
    assert "Mostly it is off after 30 min." in say.message


def test_without_a_habit_the_kind_says_what_is_long() -> None:
    watch = Watch()
    watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(115 * MINUTE)
    (say,) = says(watch.pass_time(10 * MINUTE))
    assert "Mostly" not in say.message


def test_a_bath_over_night_is_no_forgotten_bath() -> None:
    watch = Watch()
    watch.on["Bath"] = (300, HEATING)
    assert not watch.pass_time(14 * HOUR, step_s=60)


def test_a_meal_is_summed_up_against_the_guess() -> None:
    watch = Watch()
    watch.alerts.settle_meal(meal(), PlannedMeal(expected_ah=24.0))
    (say,) = says(watch.pass_time(MINUTE))
    assert say.title == "Dinner is done"
    # 21 Ah of 560 Ah are 3.75 %.
    assert say.message == (
        "It took 21 Ah, 4 % of the bank. 40 % of it came from the sun. The guess was 24 Ah."
    )
    assert not watch.pass_time(5 * HOUR)
    assert clears(watch.pass_time(6 * HOUR)) == [say.tag]


def test_the_next_meal_replaces_the_last_one() -> None:
    watch = Watch()
    watch.alerts.settle_meal(meal())
    watch.pass_time(MINUTE)
    watch.alerts.settle_meal(meal(start_s=NOON_S, label="supper"))
    said = watch.pass_time(MINUTE)
    assert len(says(said)) == 1
    assert not clears(said)


def test_a_hot_drink_is_no_news() -> None:
    watch = Watch()
    watch.alerts.settle_meal(meal(label=HOT_DRINK))
    watch.alerts.settle_meal(meal(energy_wh=10))
    assert not watch.pass_time(HOUR)


def test_a_meal_of_which_nobody_knows_whether_anything_was_cooked_is_no_news() -> None:
    doubtful = replace(run_of("Hob", 3), confidence=0.5)
    watch = Watch()
    watch.alerts.settle_meal(meal(runs=(doubtful,)))
    assert not watch.pass_time(HOUR)
    watch.alerts.settle_meal(meal(runs=(doubtful, doubtful)))
    (say,) = says(watch.pass_time(HOUR))
    assert say.kind is OccurrenceKind.MEAL_FINISHED


def test_a_late_dinner_is_told_in_the_morning() -> None:
    late_s = NOON_S + 11 * HOUR
    watch = Watch(quiet_hours=QUIET, at_s=late_s)
    watch.alerts.settle_meal(meal(end_s=late_s))
    assert not watch.pass_time(7.9 * HOUR, step_s=60)
    (say,) = says(watch.pass_time(HOUR, step_s=60))
    assert say.kind is OccurrenceKind.MEAL_FINISHED
    assert not say.urgent


def test_what_is_over_by_the_morning_is_not_told() -> None:
    watch = Watch(quiet_hours=QUIET, at_s=NOON_S + 11 * HOUR)
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(HOUR)
    watch.on.clear()
    assert not watch.pass_time(10 * HOUR, step_s=60)


def test_a_stuck_contact_is_told_at_night() -> None:
    watch = Watch(quiet_hours=QUIET, at_s=NOON_S + 14 * HOUR)
    watch.alerts.hear([Stuck("Galley 1", watch.at_s, Trouble.DRAW_DID_NOT_FALL)])
    (say,) = says(watch.pass_time(MINUTE))
    assert say.urgent
    assert "may be stuck" in say.message


def test_a_question_is_shown_with_its_token_until_it_is_over() -> None:
    watch = Watch()
    watch.alerts.hear([ask(watch.at_s)])
    (say,) = says(watch.pass_time(HOUR))
    assert say.token == "t1"
    assert say.title == "Galley 1 is still on"
    # 20 W for a day are 480 Wh, 41.67 Ah at 12.8 V and 0.9 (worked in the check values).
    assert say.message == (
        "Nobody has cooked on Galley 1 for 10 min. It still draws 20 W, 42 Ah by this time "
        "tomorrow. Switch it off?"
    )
    watch.alerts.hear([QuestionOver("Galley 1", watch.at_s, "t1")])
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


def test_a_question_is_not_asked_twice_across_a_restart() -> None:
    watch = Watch()
    watch.alerts.hear([ask(watch.at_s)])
    assert says(watch.pass_time(MINUTE))
    watch.restart()
    assert not watch.pass_time(HOUR)
    watch.alerts.hear([QuestionOver("Galley 1", watch.at_s, "t1")])
    assert clears(watch.pass_time(MINUTE)) == ["standby_left_on:Galley 1"]


def test_an_unknown_standby_is_asked_about_without_a_figure() -> None:
    title, message = all_said(
        alert_texts.standby_left_on("Galley 1", 600, None, None, asks=True)
    )
    assert title == "Galley 1 is still on"
    assert message == "Nobody has cooked on Galley 1 for 10 min. Switch it off?"


def test_a_stuck_contact_is_shown_until_somebody_has_looked() -> None:
    watch = Watch()
    watch.alerts.hear([Stuck("Galley 1", watch.at_s, Trouble.RELAY_DID_NOT_OPEN)])
    (say,) = says(watch.pass_time(12 * HOUR, step_s=60))
    assert say.kind is OccurrenceKind.CUT_FAILED
    assert "it did not" in say.message
    watch.restart()
    watch.alerts.inspected("Galley 1")
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


def test_a_circuit_without_a_relay_is_told_of_but_not_asked_about() -> None:
    watch = Watch(standby_w={"Galley 2": 18.0}, idle_since_s={"Galley 2": NOON_S})
    assert not watch.pass_time(59 * MINUTE)
    (say,) = says(watch.pass_time(5 * HOUR))
    assert say.token is None
    assert "Switch it off?" not in say.message
    watch.idle_since_s["Galley 2"] = watch.at_s
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


@pytest.mark.parametrize("standby_w", [0.0, 3.0])
def test_a_small_standby_is_not_worth_getting_up_for(standby_w: float) -> None:
    watch = Watch(standby_w={"Galley 2": standby_w}, idle_since_s={"Galley 2": NOON_S})
    assert not watch.pass_time(5 * HOUR, step_s=60)
