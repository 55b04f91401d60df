"""Events: heard once, when it happens, never on start and never for a mistake taken back."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.advice import Verdict
from custom_components.galley_loads.core.boat.boat import Appliance, Boat
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.inference.model.activity import Run
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.live.live_view import (
    ApplianceNow,
    ApplianceState,
    LiveView,
)
from custom_components.galley_loads.core.meals.dish_cost import reckon
from custom_components.galley_loads.core.meals.meal_builder import HOT_DRINK, Meal
from custom_components.galley_loads.core.occasions.event_filter import (
    AutomationEvent,
    EventFilter,
)
from custom_components.galley_loads.core.occasions.facts import Facts
from custom_components.galley_loads.core.occasions.meal_occurrences import PlannedMeal
from custom_components.galley_loads.core.occasions.night import NightOutlook
from custom_components.galley_loads.core.occasions.occurrence import (
    OF_RUNS,
    OccurrenceKind,
)
from custom_components.galley_loads.core.occasions.occurrence_watch import (
    OccurrenceWatch,
)
from tests.core.rigs import NOON_S, galley_boat

OVEN = Appliance("Oven", catalogue.OVEN, 2000)
KETTLE = Appliance("Kettle", catalogue.KETTLE, 1500)
RICE = Appliance("Rice cooker", catalogue.RICE_COOKER, 500)
HOB = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
GALLEY = (OVEN, KETTLE, RICE, HOB)

STEP_S = 10.0


def boat(**changes: object) -> Boat:
    return galley_boat(appliances=GALLEY, **changes)  # type: ignore[arg-type]


def at(
    at_s: float,
    *running: ApplianceNow,
    load_w: float | None = 120.0,
    standby: Iterable[str] = (),
    **values: float | None,
) -> LiveView:
    """Return the present with these appliances running, the rest off or on standby."""
    known = {one.name: one for one in running}
    rest = {
        a.name: ApplianceNow(a.name, ApplianceState.STANDBY, 20.0)
        if a.name in standby
        else ApplianceNow(a.name, ApplianceState.OFF, 0.0)
        for a in GALLEY
    }
    view = LiveView(
        at_s=at_s,
        load_w=load_w,
        galley_w=0.0,
        background_w=120.0,
        unassigned_w=0.0,
        standby_w=0.0,
        solar_w=0.0,
        battery_w=-130.0,
        voltage_v=13.0,
        soc=80.0,
        appliances=tuple(known.get(name, rest[name]) for name in rest),
        current_meal=None,
        last_meal=None,
    )
    return replace(view, **values)  # type: ignore[arg-type]


def on(
    name: str,
    since_s: float,
    *,
    power_w: float = 1500.0,
    holding: bool = False,
    confidence: float = 0.9,
) -> ApplianceNow:
    state = ApplianceState.HOLDING if holding else ApplianceState.HEATING
    return ApplianceNow(name, state, power_w, since_s, 0.0, confidence)


def steps(from_s: float, to_s: float) -> Iterator[float]:
    """Return moments ten seconds apart, counted from noon."""
    moment = from_s
    while moment <= to_s:
        yield NOON_S + moment
        moment += STEP_S


class Listening:
    """A watch, and what automations hear of it."""

    def __init__(self, given_boat: Boat) -> None:
        """Begin to watch; nothing has been heard."""
        self.boat = given_boat
        self.watch, self.filter = OccurrenceWatch(given_boat), EventFilter()
        self.idle_since_s: dict[str, float | None] = {}

    def hear(self, facts: Facts) -> list[AutomationEvent]:
        """Take a moment, with what the rules of cutting and the standby book say of it."""
        standby_w: dict[str, float | None] = {}
        for circuit in self.boat.circuits:
            here = [
                facts.live.appliance(a.name)
                for a in self.boat.appliances
                if a.circuit == circuit.name
            ]
            if facts.live.load_w is None or any(now.running for now in here):
                self.idle_since_s[circuit.name] = None
            elif self.idle_since_s.get(circuit.name) is None:
                self.idle_since_s[circuit.name] = facts.at_s
            standby_w[circuit.name] = sum(
                now.power_w for now in here if now.state is ApplianceState.STANDBY
            )
        facts = replace(
            facts,
            idle_since_s=dict(self.idle_since_s),
            standby_w=standby_w,
            relay_closed={c.name: True for c in self.boat.circuits if c.relay},
        )
        return self.filter.observe(facts.at_s, self.watch.observe(facts))

    def settle(
        self, event: MealSettled, planned: PlannedMeal | None = None
    ) -> list[AutomationEvent]:
        """Take a meal that is over."""
        return self.filter.take([self.watch.settle_meal(event.meal, planned)])

    def advise(self, at_s: float, dish: str, verdict: Verdict) -> list[AutomationEvent]:
        """Take an advice."""
        return self.filter.take(self.watch.advise(at_s, dish, verdict))


def told(
    watch: Listening, views: Iterable[LiveView], **facts: object
) -> list[AutomationEvent]:
    news: list[AutomationEvent] = []
    for view in views:
        news += watch.hear(Facts(view.at_s, view, **facts))  # type: ignore[arg-type]
    return news


def kinds(news: Iterable[AutomationEvent]) -> list[tuple[OccurrenceKind, str]]:
    return [(one.kind, one.subject) for one in news]


def watching(given_boat: Boat | None = None) -> Listening:
    """Return a watch that has seen a quiet galley."""
    watch = Listening(given_boat or boat())
    assert told(watch, [at(NOON_S - STEP_S)]) == []
    return watch


def test_a_kettle_starts_and_finishes_once() -> None:
    watch = watching()
    news = told(watch, (at(s, on("Kettle", NOON_S)) for s in steps(0, 240)))
    assert kinds(news) == [(OccurrenceKind.STARTED, "Kettle")]
    # Told twenty seconds after it began, with the moment at which it began.
    assert news[0].at_s == NOON_S + 20
    assert news[0].details == {"started_s": NOON_S}
    after = told(watch, (at(s) for s in steps(250, 900)))
    assert kinds(after) == [(OccurrenceKind.FINISHED, "Kettle")]
    assert after[0].details["minutes"] == 4.0
    assert 90 <= after[0].at_s - (NOON_S + 240) <= 100


def test_a_flicker_is_not_told() -> None:
    watch = watching()
    views = [at(NOON_S, on("Kettle", NOON_S)), at(NOON_S + 10, on("Kettle", NOON_S))]
    assert told(watch, [*views, *(at(s) for s in steps(20, 600))]) == []


def test_a_guess_without_confidence_is_not_told() -> None:
    watch = watching()
    doubtful = (at(s, on("Oven", NOON_S, confidence=0.4)) for s in steps(0, 300))
    assert told(watch, doubtful) == []
    assert told(watch, (at(s) for s in steps(310, 900))) == []


def test_a_run_that_was_doubtful_for_long_is_not_told_as_finished() -> None:
    watch = watching()
    told(watch, (at(s, on("Hob", NOON_S)) for s in steps(0, 60)))
    doubtful = (at(s, on("Hob", NOON_S, confidence=0.5)) for s in steps(70, 600))
    assert told(watch, doubtful) == []
    assert told(watch, (at(s) for s in steps(610, 900))) == []


def test_one_sure_moment_in_a_doubtful_beginning_is_no_start() -> None:
    watch = watching()
    doubtful = [at(s, on("Hob", NOON_S, confidence=0.5)) for s in steps(0, 50)]
    sure = at(NOON_S + 60, on("Hob", NOON_S, confidence=0.95))
    again = [at(s, on("Hob", NOON_S, confidence=0.5)) for s in steps(70, 120)]
    assert told(watch, [*doubtful, sure, *again]) == []


def test_what_turns_out_to_be_the_oven_is_not_told_as_a_finished_kettle() -> None:
    watch = watching()
    told(watch, (at(s, on("Kettle", NOON_S)) for s in steps(0, 60)))
    news = told(watch, (at(s, on("Oven", NOON_S)) for s in steps(70, 600)))
    assert kinds(news) == [(OccurrenceKind.STARTED, "Oven")]


def test_a_lifted_pan_does_not_finish_the_run() -> None:
    watch = watching()
    told(watch, (at(s, on("Hob", NOON_S)) for s in steps(0, 300)))
    lifted = [at(s) for s in steps(310, 370)]
    assert told(watch, lifted) == []
    assert told(watch, (at(s, on("Hob", NOON_S)) for s in steps(380, 500))) == []


def test_what_runs_at_the_start_is_not_told_as_started_but_as_finished() -> None:
    watch = Listening(boat())
    running = (at(s, on("Oven", NOON_S - 3000)) for s in steps(0, 600))
    assert told(watch, running) == []
    news = told(watch, (at(s) for s in steps(610, 900)))
    assert kinds(news) == [(OccurrenceKind.FINISHED, "Oven")]


def test_what_was_left_running_before_the_start_is_not_told() -> None:
    watch = Listening(boat())
    since_s = NOON_S - 5 * 3600
    views = (at(s, on("Oven", since_s, holding=True)) for s in steps(0, 900))
    assert told(watch, views) == []


def test_an_oven_comes_to_temperature_once() -> None:
    watch = watching()
    told(watch, (at(s, on("Oven", NOON_S)) for s in steps(0, 600)))
    holding = [at(s, on("Oven", NOON_S, holding=True)) for s in steps(610, 1200)]
    news = told(watch, holding)
    assert kinds(news) == [(OccurrenceKind.AT_TEMPERATURE, "Oven")]


def test_the_rice_is_done_when_it_begins_to_keep_warm() -> None:
    watch = watching()
    told(watch, (at(s, on("Rice cooker", NOON_S)) for s in steps(0, 1500)))
    warm = [at(s, on("Rice cooker", NOON_S, holding=True)) for s in steps(1510, 3000)]
    assert kinds(told(watch, warm)) == [(OccurrenceKind.FINISHED, "Rice cooker")]
    assert told(watch, (at(s) for s in steps(3010, 3600))) == []


def test_a_kettle_that_never_clicks_off_was_left_running() -> None:
    watch = watching()
    news = told(watch, (at(s, on("Kettle", NOON_S)) for s in steps(0, 1800)))
    assert kinds(news) == [
        (OccurrenceKind.STARTED, "Kettle"),
        (OccurrenceKind.LEFT_RUNNING, "Kettle"),
    ]
    # A kettle without a habit counts as left after a quarter of an hour.
    assert news[1].at_s == NOON_S + 900


def test_the_habit_decides_when_a_run_is_long() -> None:
    watch = watching()
    habit = [
        RunSettled(Run("Oven", s, s + 3600, 1500, 2000, 0.9, ()))
        for s in range(0, 864000, 86400)
    ]
    for settled in habit:
        watch.watch.settle_run(settled.run)
    news = told(watch, (at(s, on("Oven", NOON_S)) for s in steps(0, 3 * 3600)))
    assert (OccurrenceKind.LEFT_RUNNING, "Oven") in kinds(news)
    # Twice the usual hour, before the three hours of an oven without a habit.
    assert news[-1].at_s == pytest.approx(NOON_S + 7200, abs=STEP_S)


def test_habits_are_recalled_after_a_restart() -> None:
    watch = watching()
    watch.watch.recall({"Oven": [60.0] * 10, "Grill": [5.0]})
    news = told(watch, (at(s, on("Oven", NOON_S)) for s in steps(0, 3 * 3600)))
    assert news[-1].kind is OccurrenceKind.LEFT_RUNNING
    assert news[-1].at_s == pytest.approx(NOON_S + 7200, abs=STEP_S)


def test_an_end_within_a_long_gap_is_not_told() -> None:
    watch = watching()
    told(watch, (at(s, on("Oven", NOON_S)) for s in steps(0, 600)))
    gap = [at(s, load_w=None) for s in steps(610, 4200)]
    assert told(watch, [*gap, *(at(s) for s in steps(4210, 4500))]) == []


def test_a_start_within_a_long_gap_is_not_told() -> None:
    watch = watching()
    told(watch, (at(s, load_w=None) for s in steps(0, 3600)))
    running = (at(s, on("Oven", NOON_S + 60)) for s in steps(3610, 4000))
    assert told(watch, running) == []


@st.composite
def afternoons(draw: st.DrawFn) -> list[LiveView]:
    """Draw an afternoon of runs, pauses, doubts and gaps."""
    views: list[LiveView] = []
    since: dict[str, float] = {}
    moment = NOON_S
    for _ in range(draw(st.integers(1, 12))):
        names = draw(st.sets(st.sampled_from([a.name for a in GALLEY]), max_size=3))
        measured = draw(st.booleans()) or draw(st.booleans())
        confidence = draw(st.sampled_from([0.3, 0.7, 0.95]))
        holding = draw(st.booleans())
        since = {name: since.get(name, moment) for name in names if measured}
        for _ in range(draw(st.sampled_from([1, 2, 4, 12, 30]))):
            running = [
                on(name, start_s, holding=holding, confidence=confidence)
                for name, start_s in since.items()
            ]
            load_w = 120.0 + 1500.0 * len(running) if measured else None
            views.append(at(moment, *running, load_w=load_w))
            moment += STEP_S
    return views


@given(afternoons())
@settings(max_examples=40)
def test_every_end_has_its_beginning_and_nothing_is_told_twice(
    views: list[LiveView],
) -> None:
    news = told(Listening(boat()), views)
    begun = {one.name for one in views[0].appliances if one.running}
    of_runs = [one for one in news if one.kind in OF_RUNS]
    for one in of_runs:
        if one.kind is OccurrenceKind.STARTED:
            begun.add(one.subject)
        else:
            assert one.subject in begun
        if one.kind is OccurrenceKind.FINISHED:
            begun.discard(one.subject)
    assert all(a.at_s <= b.at_s for a, b in pairwise(news))
    assert not any(one.at_s == views[0].at_s for one in news)
    per_run = [
        (one.kind, one.subject, one.details.get("started_s"))
        for one in news
        if one.kind is OccurrenceKind.STARTED
    ]
    assert len(per_run) == len(set(per_run))


@given(afternoons())
@settings(max_examples=40)
def test_the_same_afternoon_gives_the_same_news(views: list[LiveView]) -> None:
    assert told(Listening(boat()), views) == told(Listening(boat()), views)


def test_an_idle_circuit_on_standby_is_told_once_per_idle_time() -> None:
    watch = watching()
    idle = [at(s, standby=["Hob"]) for s in steps(0, 1800)]
    news = told(watch, idle)
    assert kinds(news) == [(OccurrenceKind.STANDBY_LEFT_ON, "Galley 1")]
    # Its own ten idle minutes, from the first moment on.
    assert news[0].at_s == NOON_S + 590
    assert news[0].details == {"idle_minutes": 10.0, "standby_w": 20.0}
    told(watch, (at(s, on("Hob", NOON_S + 1810)) for s in steps(1810, 2400)))
    again = told(watch, (at(s, standby=["Hob"]) for s in steps(2410, 4000)))
    assert (OccurrenceKind.STANDBY_LEFT_ON, "Galley 1") in kinds(again)


def test_a_circuit_without_a_relay_is_told_of_after_an_hour() -> None:
    watch = watching(boat(relay=None))
    news = told(watch, (at(s, standby=["Hob"]) for s in steps(0, 5400)))
    assert [one.at_s for one in news] == [NOON_S + 3590]


def test_an_unmeasured_boat_is_not_idle() -> None:
    watch = watching()
    views = (at(s, load_w=None, standby=["Hob"]) for s in steps(0, 1800))
    assert told(watch, views) == []


def test_a_load_near_the_inverters_limit_is_told_once() -> None:
    watch = watching()
    both = [on("Oven", NOON_S, power_w=1300), on("Kettle", NOON_S, power_w=1000)]
    news = told(watch, (at(s, *both, load_w=2420.0) for s in steps(0, 600)))
    near = [one for one in news if one.kind is OccurrenceKind.OVERLOAD_NEAR]
    assert [one.subject for one in near] == ["inverter"]
    assert near[0].details["load_w"] == 2420.0


def test_a_reserve_at_risk_is_told_once_and_not_on_start() -> None:
    night = NightOutlook(NOON_S, 28.0, NOON_S + 36000, 0.8)
    views = [at(s, on("Oven", NOON_S)) for s in steps(0, 600)]
    news = told(watching(), views, night=night)
    risks = [one for one in news if one.kind is OccurrenceKind.RESERVE_AT_RISK]
    assert [one.details for one in risks] == [
        {"lowest_soc": 28.0, "lowest_at_s": NOON_S + 36000, "chance": 0.8}
    ]


def test_advice_is_told_when_it_changes_for_the_same_dish() -> None:
    watch = Listening(boat())
    assert watch.advise(NOON_S, "Bread", Verdict.WAIT) == []
    assert watch.advise(NOON_S + 900, "Bread", Verdict.WAIT) == []
    (news,) = watch.advise(NOON_S + 1800, "Bread", Verdict.COOK_NOW)
    assert news.kind is OccurrenceKind.ADVICE_CHANGED
    assert news.subject == "Bread"
    assert news.details == {"before": "wait", "verdict": "cook_now"}
    # Another dish, or the same planned anew, is an answer and no news.
    assert watch.advise(NOON_S + 2700, "Stew", Verdict.HOLD_OFF) == []
    watch.watch.plan()
    assert watch.advise(NOON_S + 3600, "Stew", Verdict.COOK_NOW) == []


def test_not_to_know_for_a_while_is_no_change_of_advice() -> None:
    watch = Listening(boat())
    watch.advise(NOON_S, "Bread", Verdict.UNKNOWN)
    watch.advise(NOON_S + 900, "Bread", Verdict.WAIT)
    assert watch.advise(NOON_S + 1800, "Bread", Verdict.UNKNOWN) == []
    assert watch.advise(NOON_S + 2700, "Bread", Verdict.WAIT) == []


@pytest.mark.parametrize(
    ("label", "kind"),
    [
        ("dinner", OccurrenceKind.MEAL_FINISHED),
        (HOT_DRINK, OccurrenceKind.HOT_DRINK_FINISHED),
    ],
)
def test_a_settled_meal_is_told_with_what_it_took(
    label: str, kind: OccurrenceKind
) -> None:
    meal = Meal(
        NOON_S, NOON_S + 2400, label, ("Hob", "Oven"),
        766.66, 64.123, 50.0, None, 0.25, 80.0, 70.0, (),
    )  # fmt: skip
    (news,) = Listening(boat()).settle(MealSettled(meal))
    assert news.kind is kind
    assert news.subject == label
    assert news.at_s == NOON_S + 2400
    assert news.details == {
        "appliances": "Hob, Oven",
        "started_s": NOON_S,
        "energy_wh": 766.7,
        "bank_ah": 64.12,
        "sun_share": 0.25,
    }


def test_a_meal_of_a_planned_dish_is_told_with_what_was_expected() -> None:
    meal = Meal(
        NOON_S, NOON_S + 2400, "lunch", ("Oven",),
        460.0, 38.0, 38.0, None, None, None, None, (),
    )  # fmt: skip
    (news,) = Listening(boat()).settle(
        MealSettled(meal), PlannedMeal(reckon("Bread", 500.04, meal))
    )
    assert news.details["dish"] == "Bread"
    assert news.details["expected_wh"] == 500.0
    assert news.details["difference_wh"] == -40.0
