"""What is said to the crew: once, in time, in plain words, and taken back when over."""

from dataclasses import dataclass, field, replace
from datetime import time
import json

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.activity import Run
from custom_components.galley_loads.core.alerts import (
    AlertKind,
    Alerts,
    Clear,
    Facts,
    Message,
    NightOutlook,
    Say,
    night_outlook,
    texts,
)
from custom_components.galley_loads.core.alerts.supply import best_to_stop
from custom_components.galley_loads.core.boat import Appliance, Boat, Supply
from custom_components.galley_loads.core.cutting import (
    Ask,
    QuestionOver,
    Stuck,
    Trouble,
)
from custom_components.galley_loads.core.kinds import Kind
from custom_components.galley_loads.core.live import (
    ApplianceNow,
    ApplianceState,
    LiveView,
)
from custom_components.galley_loads.core.load import LoadSample
from custom_components.galley_loads.core.meals import HOT_DRINK, Meal
from custom_components.galley_loads.core.outlook import Outlook
from custom_components.galley_loads.core.questions import Question
from custom_components.galley_loads.core.quiet_hours import QuietHours
from tests.core.rigs import NOON_S, galley_boat

HEATING, HOLDING = ApplianceState.HEATING, ApplianceState.HOLDING
MINUTE, HOUR = 60.0, 3600.0

FLEET = (
    Appliance("Hob", Kind.INDUCTION_HOB, 1800, circuit="Galley 1"),
    Appliance("Kettle", Kind.KETTLE, 2000, circuit="Galley 2"),
    Appliance("Oven", Kind.OVEN, 1500, circuit="Galley 1"),
    Appliance("Bath", Kind.WATER_BATH, 1000, circuit="Galley 2"),
    Appliance("Rice cooker", Kind.RICE_COOKER, 500, circuit="Galley 2"),
    Appliance("Bread maker", Kind.BREAD_MAKER, 550, circuit="Galley 2"),
    Appliance("Cool pan", Kind.OTHER, 300, supply=Supply.DC),
)
QUIET = QuietHours(time(22), time(7))


def fleet_boat(max_discharge_current_a: float = 400) -> Boat:
    boat = galley_boat(appliances=FLEET)
    bank = replace(boat.bank, max_discharge_current_a=max_discharge_current_a)
    return replace(boat, bank=bank)


@dataclass
class Watch:
    """A boat whose present the test decides, and what is said about it."""

    boat: Boat = field(default_factory=fleet_boat)
    quiet_hours: QuietHours | None = None
    at_s: float = NOON_S
    on: dict[str, tuple[float, ApplianceState]] = field(default_factory=dict)
    starts: dict[str, float] = field(default_factory=dict)
    used_wh: dict[str, float] = field(default_factory=dict)
    confidence: float = 0.9
    measured: bool = True
    solar_w: float | None = 0.0
    unnamed_w: float = 0.0
    soc: float | None = 70.0
    night: NightOutlook | None = None
    idle_since_s: dict[str, float] = field(default_factory=dict)
    standby_w: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Set up the alerts."""
        self.alerts = Alerts(self.boat, quiet_hours=self.quiet_hours)

    def facts(self) -> Facts:
        """Return the present."""
        for name in self.on:
            self.starts.setdefault(name, self.at_s)
        for name in set(self.starts) - set(self.on):
            del self.starts[name]
        appliances = tuple(
            ApplianceNow(
                a.name,
                self.on[a.name][1] if a.name in self.on else ApplianceState.OFF,
                self.on.get(a.name, (0.0,))[0],
                self.starts.get(a.name),
                self.used_wh.get(a.name, 0.0),
                confidence=self.confidence,
            )
            for a in self.boat.appliances
        )
        running_w = sum(power_w for power_w, _ in self.on.values())
        load_w = 120.0 + running_w + self.unnamed_w if self.measured else None
        discharge_w = ((load_w or 0.0) / 0.9) - (self.solar_w or 0.0)
        live = LiveView(
            self.at_s, load_w, running_w, 120.0, self.unnamed_w, 0.0, self.solar_w,
            -discharge_w, 12.8, self.soc, appliances, None, None,
        )  # fmt: skip
        return Facts(
            self.at_s,
            live,
            discharge_w / 12.8,
            self.night,
            idle_since_s=self.idle_since_s,
            standby_w=self.standby_w,
        )

    def pass_time(self, seconds: float, step_s: float = 10.0) -> list[Message]:
        """Let time pass; return what was said meanwhile."""
        said: list[Message] = []
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            said += self.alerts.observe(self.facts())
            self.at_s += step_s
        return said

    def restart(self) -> None:
        """Save everything, start anew, and take it up again."""
        saved = json.loads(json.dumps(self.alerts.snapshot()))
        self.alerts = Alerts(self.boat, quiet_hours=self.quiet_hours)
        self.alerts.restore(saved)


def says(messages: list[Message], kind: AlertKind | None = None) -> list[Say]:
    return [
        m for m in messages if isinstance(m, Say) and (kind is None or m.kind is kind)
    ]


def clears(messages: list[Message]) -> list[str]:
    return [m.tag for m in messages if isinstance(m, Clear)]


def ask(at_s: float) -> Ask:
    question = Question("t1", "Galley 1", at_s, at_s + 2 * HOUR)
    return Ask("Galley 1", at_s, question, 20.0, at_s - 600)


# Appliances.


def test_rice_is_done_when_the_cooker_begins_to_keep_warm() -> None:
    watch = Watch()
    watch.on["Rice cooker"] = (480, HEATING)
    assert not watch.pass_time(25 * MINUTE)
    watch.on["Rice cooker"] = (40, HOLDING)
    (say,) = says(watch.pass_time(2 * MINUTE))
    assert (say.kind, say.subject) == (AlertKind.FINISHED, "Rice cooker")
    assert say.title == "Rice cooker is done"
    assert say.message == "It took 25 min. It keeps warm now."
    watch.on.clear()
    assert not says(watch.pass_time(HOUR))


def test_bread_is_done_when_its_maker_stops() -> None:
    watch = Watch()
    watch.on["Bread maker"] = (300, HEATING)
    watch.pass_time(3 * HOUR)
    watch.on.clear()
    assert not watch.pass_time(14 * MINUTE)  # dough may rest as long
    (say,) = says(watch.pass_time(3 * MINUTE))
    assert say.title == "Bread maker is done"
    assert clears(watch.pass_time(3 * HOUR)) == [say.tag]


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
    assert say.kind is AlertKind.AT_TEMPERATURE
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


def run_of(name: str, minutes: float, end_s: float = NOON_S) -> Run:
    return Run(name, end_s - 60 * minutes, end_s, 500, 1400, 0.9, ())


def test_an_appliance_left_running_beyond_its_habit_is_reported_once() -> None:
    watch = Watch()
    for minutes in (18, 22, 25, 30, 21, 24, 19, 26):
        watch.alerts.settle_run(run_of("Hob", minutes))
    watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(50 * MINUTE)
    (say,) = says(watch.pass_time(4 * HOUR))
    assert say.kind is AlertKind.LEFT_RUNNING
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


# Timers.


def test_a_timer_starts_at_temperature_and_says_when_it_is_over() -> None:
    watch = Watch(quiet_hours=QuietHours(time(11), time(18)))
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (1000, HEATING)
    watch.pass_time(20 * MINUTE)
    hot_s = watch.at_s
    watch.on["Bath"] = (100, HOLDING)
    assert not says(watch.pass_time(59 * MINUTE), AlertKind.TIMER_OVER)
    (say,) = says(watch.pass_time(3 * MINUTE), AlertKind.TIMER_OVER)
    assert say.title == "Bath: time is up"
    timer = watch.alerts.timers.get("Bath")
    assert timer is not None
    assert timer.ended_s - hot_s == pytest.approx(60 * MINUTE, abs=15)
    assert clears(watch.pass_time(90 * MINUTE)).count("timer_over:Bath") == 1


def test_a_timer_survives_a_restart() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 30, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(20 * MINUTE)
    watch.restart()
    assert says(watch.pass_time(12 * MINUTE), AlertKind.TIMER_OVER)


def test_a_bath_that_goes_off_early_is_reported() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(42 * MINUTE)
    watch.on.clear()
    (say,) = says(watch.pass_time(10 * MINUTE), AlertKind.TIMER_OVER)
    assert say.title == "Bath went off early"
    assert say.message == "It has been at temperature for 42 of 60 min."


def test_lost_readings_do_not_stop_a_timer() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.on["Bath"] = (100, HOLDING)
    watch.pass_time(30 * MINUTE)
    watch.on.clear()
    watch.measured = False
    said = says(watch.pass_time(40 * MINUTE), AlertKind.TIMER_OVER)
    assert [say.title for say in said] == ["Bath: time is up"]


def test_a_timer_that_never_gets_hot_is_dropped() -> None:
    watch = Watch()
    watch.alerts.timers.set("Bath", 60, watch.at_s)
    watch.pass_time(13 * HOUR, step_s=60)
    assert watch.alerts.timers.get("Bath") is None


def test_a_timer_can_be_cancelled() -> None:
    watch = Watch()
    watch.alerts.timers.set("Oven", 30, watch.at_s)
    assert watch.alerts.timers.cancel("Oven")
    assert not watch.alerts.timers.cancel("Oven")


@pytest.mark.parametrize(
    ("name", "minutes", "complaint"),
    [
        ("Hob", 30, "must hold a temperature"),
        ("Sauna", 30, "must hold a temperature"),
        ("Bath", 0, "must be above 0"),
        ("Bath", -5, "must be above 0"),
        ("Bath", 1e9, "at most"),
        ("Bath", float("nan"), "must be above 0"),
    ],
)
def test_a_timer_that_makes_no_sense_is_refused(name, minutes, complaint) -> None:
    with pytest.raises(ValueError, match=complaint):
        Watch().alerts.timers.set(name, minutes, NOON_S)


# Meals.


def meal(**changes) -> Meal:
    dinner = Meal(
        NOON_S - HOUR,
        NOON_S,
        "dinner",
        ("Hob",),
        250,
        21.0,
        12.0,
        15.0,
        0.4,
        80,
        76,
        (),
    )
    return replace(dinner, **changes)


def test_a_meal_is_summed_up_against_the_guess() -> None:
    watch = Watch()
    watch.alerts.settle_meal(meal(), expected_ah=24.0)
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


# Quiet hours.


def test_a_late_dinner_is_told_in_the_morning() -> None:
    late_s = NOON_S + 11 * HOUR
    watch = Watch(quiet_hours=QUIET, at_s=late_s)
    watch.alerts.settle_meal(meal(end_s=late_s))
    assert not watch.pass_time(7.9 * HOUR, step_s=60)
    (say,) = says(watch.pass_time(HOUR, step_s=60))
    assert say.kind is AlertKind.MEAL_FINISHED
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


# Circuits.


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
    title, message = texts.standby_left_on("Galley 1", 600, None, None, asks=True)
    assert title == "Galley 1 is still on"
    assert message == "Nobody has cooked on Galley 1 for 10 min. Switch it off?"


def test_a_stuck_contact_is_shown_until_somebody_has_looked() -> None:
    watch = Watch()
    watch.alerts.hear([Stuck("Galley 1", watch.at_s, Trouble.RELAY_DID_NOT_OPEN)])
    (say,) = says(watch.pass_time(12 * HOUR, step_s=60))
    assert say.kind is AlertKind.CUT_FAILED
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


# Limits.


def test_an_inverter_near_its_limit_says_what_to_turn_off() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bath": (900, HEATING)}
    (say,) = says(watch.pass_time(MINUTE))
    assert (say.kind, say.subject) == (AlertKind.OVERLOAD_NEAR, "inverter")
    assert say.urgent
    # 1400 + 900 + 120 W; stopping the bath is enough and disturbs least.
    assert say.message == "2,420 W of 2,500 W. Turn off Bath first."
    del watch.on["Bath"]
    assert clears(watch.pass_time(5 * MINUTE)) == [say.tag]


def test_a_load_that_hovers_at_the_limit_is_reported_once() -> None:
    watch = Watch()
    said: list[Message] = []
    for _ in range(10):
        watch.on = {"Hob": (1400, HEATING), "Bath": (900, HEATING)}
        said += watch.pass_time(MINUTE)
        del watch.on["Bath"]
        said += watch.pass_time(4 * MINUTE)
    assert len(says(said, AlertKind.OVERLOAD_NEAR)) == 1


def test_an_appliance_alone_may_come_close_to_a_limit() -> None:
    watch = Watch()
    watch.on = {"Kettle": (2200, HEATING)}  # 2,320 of 2,500 W; 18.3 of 20 A
    assert not watch.pass_time(5 * MINUTE)


def test_a_short_peak_is_no_overload() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bath": (1200, HEATING)}
    said = watch.pass_time(6, step_s=2)
    del watch.on["Bath"]
    assert not said + watch.pass_time(MINUTE)


def test_a_breaker_near_its_limit_is_named() -> None:
    watch = Watch()
    watch.on = {"Hob": (900, HEATING), "Oven": (800, HEATING)}  # 14.2 of 15 A
    (say,) = says(watch.pass_time(MINUTE))
    assert say.title == "The breaker of Galley 1 is near its limit"
    assert say.message == "14 A of 15 A. Turn off Oven first."


def test_the_banks_current_near_its_limit_is_told() -> None:
    watch = Watch(fleet_boat(max_discharge_current_a=150))
    watch.on = {"Hob": (900, HEATING), "Bath": (600, HEATING)}
    (say,) = says(watch.pass_time(MINUTE))
    assert say.title == "The bank's current is near its limit"
    # 1,620 W through 0.9 over 12.8 V are 140.6 A.
    assert say.message.startswith("141 A of 150 A.")


def test_what_hangs_on_the_bank_directly_does_not_load_the_inverter() -> None:
    watch = Watch()
    watch.on = {
        "Hob": (1400, HEATING),
        "Bath": (650, HEATING),
        "Cool pan": (300, HEATING),
    }
    assert not says(watch.pass_time(MINUTE))


def test_on_a_boat_without_an_inverter_meter_the_inverters_own_loads_count() -> None:
    sensors = replace(galley_boat().sensors, ac_load_power=None)
    watch = Watch(replace(fleet_boat(), sensors=sensors))
    watch.on = {"Hob": (1400, HEATING), "Bath": (700, HEATING)}
    assert not says(watch.pass_time(MINUTE))
    watch.unnamed_w = 200
    assert says(watch.pass_time(MINUTE))


def test_the_smallest_load_that_is_enough_is_the_one_to_stop() -> None:
    draws = {"Hob": 1400.0, "Bath": 900.0, "Rice cooker": 300.0}
    assert best_to_stop(draws, 250) == "Rice cooker"
    assert best_to_stop(draws, 500) == "Bath"
    assert best_to_stop(draws, 5000) == "Hob"
    assert best_to_stop({}, 100) is None


# Sun.


def test_a_sun_that_goes_away_mid_cook_is_told_once() -> None:
    watch = Watch(solar_w=700)
    watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(15 * MINUTE)
    watch.solar_w = 90
    (say,) = says(watch.pass_time(10 * MINUTE))
    assert say.kind is AlertKind.SUN_GONE
    assert say.message == "It gives 90 W now, 700 W before. Hob runs off the bank."
    watch.solar_w = 700
    assert clears(watch.pass_time(10 * MINUTE)) == [say.tag]


def test_one_cloud_is_no_news() -> None:
    watch = Watch(solar_w=700)
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(15 * MINUTE)
    watch.solar_w = 90
    said = watch.pass_time(2 * MINUTE)
    watch.solar_w = 650
    assert not said + watch.pass_time(30 * MINUTE)


@pytest.mark.parametrize("solar_w", [None, 100.0])
def test_a_sun_that_never_carried_the_cooking_cannot_leave_it(solar_w) -> None:
    watch = Watch(solar_w=solar_w)
    watch.on["Hob"] = (1500, HEATING)
    watch.pass_time(15 * MINUTE)
    watch.solar_w = 0.0
    assert not watch.pass_time(20 * MINUTE)


def test_an_evening_that_grows_dark_slowly_is_no_news() -> None:
    watch = Watch(solar_w=600)
    watch.on["Hob"] = (900, HEATING)
    said: list[Message] = []
    for minute in range(90):
        watch.solar_w = 600 * (1 - minute / 90)
        said += watch.pass_time(MINUTE)
    assert not says(said, AlertKind.SUN_GONE)


# Meters.


def test_readings_lost_while_cooking_are_told_at_once() -> None:
    watch = Watch(quiet_hours=QuietHours(time(11), time(18)))
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(5 * MINUTE)
    watch.measured = False
    watch.on.clear()
    (say,) = says(watch.pass_time(3 * MINUTE))
    assert say.kind is AlertKind.READINGS_LOST
    assert "Hob was on. Please check by eye." in say.message
    watch.restart()
    watch.measured = True
    assert clears(watch.pass_time(MINUTE)) == [say.tag]


def test_readings_lost_while_nobody_cooks_are_not_the_cooks_concern() -> None:
    watch = Watch()
    watch.pass_time(10 * MINUTE)
    watch.measured = False
    assert not watch.pass_time(HOUR)


# The night.


def night(chance_below: float, lowest_soc: float = 28.0) -> NightOutlook:
    return NightOutlook(NOON_S, lowest_soc, NOON_S + 17 * HOUR, chance_below)


def test_a_reserve_at_risk_is_told_with_what_is_cooking() -> None:
    watch = Watch(night=night(0.8))
    watch.on = {"Bath": (200, HEATING), "Hob": (900, HEATING)}
    (say,) = says(watch.pass_time(10 * MINUTE))
    assert say.kind is AlertKind.RESERVE_AT_RISK
    assert say.message == (
        "With Hob and Bath on, it falls to about 28 % by 05:00 tomorrow. "
        "Your reserve is 35 %."
    )
    watch.on.clear()
    assert clears(watch.pass_time(20 * MINUTE)) == [say.tag]


@pytest.mark.parametrize(
    ("outlook", "cooking", "soc"),
    [
        (None, True, 70),
        (night(0.3), True, 70),
        (night(0.9), False, 70),
        (night(1), True, 30),
    ],
)
def test_no_word_about_the_reserve_without_need(outlook, cooking, soc) -> None:
    watch = Watch(night=outlook, soc=soc)
    if cooking:
        watch.on["Hob"] = (900, HEATING)
    assert not watch.pass_time(HOUR)


def known_evening(soc: float) -> tuple[Outlook, float]:
    """Return an outlook after two quiet days of 100 W, and the time: an hour before dark."""
    boat = fleet_boat()
    sensors = replace(boat.sensors, battery_soc=boat.sensors.ac_load_power)
    outlook = Outlook(replace(boat, sensors=sensors))
    at_s = NOON_S + 9 * HOUR - 2 * 86400
    while at_s < NOON_S + 9 * HOUR:
        outlook.observe(
            LoadSample(
                at_s, 100.0, solar_w=0.0, battery_w=-111.0, voltage_v=12.8, soc=soc
            )
        )
        outlook.settle_span(at_s, at_s + 60, 0.0)
        at_s += 60
    return outlook, at_s


def test_the_night_takes_what_it_takes_and_cooking_comes_on_top() -> None:
    outlook, at_s = known_evening(soc=60)
    quiet = night_outlook(outlook.view(), at_s, {}, None)
    cooking = night_outlook(outlook.view(), at_s, {"Hob": 1000.0}, None)
    assert quiet is not None
    assert cooking is not None
    # 560 Ah at 12.8 V: 1000 Wh through 0.9 take 15.5 points of charge.
    assert quiet.lowest_soc - cooking.lowest_soc == pytest.approx(15.5, abs=1.5)
    # The sun rises at half past six there in May; dawn is some ten hours away.
    assert 8 * HOUR < quiet.lowest_at_s - at_s < 14 * HOUR
    assert quiet.chance_below < 0.2


def test_a_low_bank_in_the_evening_is_at_risk() -> None:
    outlook, at_s = known_evening(soc=40)
    outlook_now = night_outlook(outlook.view(), at_s, {"Hob": 800.0}, "dinner")
    assert outlook_now is not None
    assert outlook_now.chance_below > 0.8


def test_without_a_charge_there_is_no_night_to_tell_of() -> None:
    boat = fleet_boat()
    view = Outlook(boat).view()
    assert night_outlook(view, NOON_S, {}, None) is None


def test_what_still_cooks_is_guessed_from_habit() -> None:
    watch = Watch()
    watch.on["Hob"] = (900, HEATING)
    watch.pass_time(2 * MINUTE)
    # Unknown yet: half an hour of an induction hob, by its kind.
    kind_wh = Kind.INDUCTION_HOB.typical_energy_wh(1800, 30)
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": kind_wh}
    for energy_wh in (300, 500, 420):
        watch.alerts.settle_run(replace(run_of("Hob", 40), energy_wh=energy_wh))
    watch.used_wh = {"Hob": 120.0}
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": 300.0}
    watch.used_wh = {"Hob": 700.0}
    assert watch.alerts.remaining_wh(watch.facts().live) == {"Hob": 84.0}
    watch.on.clear()
    watch.pass_time(MINUTE)
    assert watch.alerts.remaining_wh(watch.facts().live) == {}


# The desk and its words.


def test_kinds_that_were_not_chosen_are_not_said() -> None:
    watch = Watch()
    watch.alerts = Alerts(watch.boat, kinds={AlertKind.FINISHED})
    watch.alerts.settle_meal(meal())
    watch.alerts.hear([ask(watch.at_s)])
    assert not watch.pass_time(HOUR)


def test_the_memory_of_what_was_said_is_bounded() -> None:
    watch = Watch()
    for day in range(700):
        watch.alerts.settle_meal(meal(start_s=NOON_S + day, end_s=watch.at_s))
        watch.pass_time(10)
    assert len(json.dumps(watch.alerts.snapshot())) < 40_000


def test_a_state_of_a_larger_boat_is_taken_up_by_a_smaller_one() -> None:
    watch = Watch()
    watch.on = {"Hob": (1400, HEATING), "Bread maker": (400, HEATING)}
    watch.alerts.settle_run(run_of("Oven", 40))
    watch.alerts.timers.set("Bath", 30, watch.at_s)
    watch.alerts.hear([ask(watch.at_s)])
    watch.pass_time(HOUR)
    saved = json.loads(json.dumps(watch.alerts.snapshot()))
    small = replace(watch.boat, appliances=FLEET[:1], circuits=())
    alerts = Alerts(small)
    alerts.restore(saved)
    assert alerts.timers.get("Bath") is None
    assert "finished:Bread maker" not in alerts.shown


HOSTILE = (
    "<b>Hob</b><script>x</script>",
    "{{ states('lock.door') }} {% raw %}",
    "Hob\n\n# URGENT: turn [everything](http://x) on",
    "\u202eboH\u0000\u0007",
    "H" * 5000,
    "",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_becomes_a_harmless_word(name: str) -> None:
    word = texts.plain(name)
    assert 0 < len(word) <= 40
    assert not set(word) & set("<>{}[]`\\|*_#~\n\r\t\0")
    assert word.isprintable()


@given(st.text(max_size=200))
def test_no_name_can_break_a_message(name: str) -> None:
    for title, message in (
        texts.standby_left_on(name, 600, 20, 42, asks=True),
        texts.cut_failed(name, relay_silent=False),
        texts.left_running(name, 600, None),
        texts.reserve_at_risk([name, name], 20, "05:00", 35),
    ):
        assert (title + message).isprintable()
        assert len(title) < 80
        assert not set(title + message) & set("<>{}[]`|\\")
