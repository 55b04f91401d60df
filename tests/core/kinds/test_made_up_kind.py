"""A kind made up on the spot goes through all of the core without a line of code."""

import ast
from collections.abc import Iterator
from copy import deepcopy
from datetime import datetime
from pathlib import Path

import pytest

from custom_components import galley_loads
from custom_components.galley_loads.core.boat.boat import Appliance, CutRule
from custom_components.galley_loads.core.boat.boat_problems import BoatError
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.cutting import Ask, Cut, Reason
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from custom_components.galley_loads.core.kinds.kind import Kind
from custom_components.galley_loads.core.kinds.traits import MayCut
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.occasions.event_filter import AutomationEvent
from custom_components.galley_loads.core.occasions.occurrence import OccurrenceKind
from custom_components.galley_loads.core.occasions.reports import Reports
from custom_components.galley_loads.core.occasions.timers import Timers, TimerState
from custom_components.galley_loads.core.phrase import PhrasedError
from custom_components.galley_loads.core.replay.replay import Report, iso_time, replay
from demo.simulator import SimOptions, random_boat, simulate
from tests.core.occasions.alert_rigs import HEATING, HOLDING, MINUTE, Watch, says
from tests.core.rigs import HOB, HOUR, NOON_S, Galley, cooked_once, galley_boat, only
from tests.said import refused

from .waffle_iron import WAFFLE_IRON, waffle_iron_known

SOURCES = Path(galley_loads.__file__).parent
IRON = Appliance("Waffle iron", WAFFLE_IRON, 1200, circuit="Galley 1")


@pytest.fixture
def kind() -> Iterator[Kind]:
    """Let the catalogue and the simulator have the kind for one test."""
    with waffle_iron_known() as known:
        yield known


@pytest.fixture
def day(kind: Kind) -> Report:
    """Return what replay says of a simulated day with a waffle iron and a kettle."""
    options = SimOptions(
        days=1,
        kinds=(str(kind), "kettle"),
        period_s=5,
        start="2026-05-11T00:00:00+00:00",
    )
    boat = random_boat(5, options)
    readings = [
        Reading(entity, state, datetime.fromisoformat(str(iso_time(at_s))).timestamp())
        for entity, state, at_s in simulate(boat, 5, options).rows()
    ]
    return replay(parse_boat(boat.description), readings)


def test_its_runs_are_inferred_and_make_a_meal(day: Report) -> None:
    runs = [run for run in day.runs if run.appliance == "Waffle iron"]
    assert len(runs) == 1
    assert runs[0].end_s - runs[0].start_s == pytest.approx(360 + 14 * 65, abs=120)
    meals = [meal for meal in day.meals if "Waffle iron" in meal.appliances]
    assert len(meals) == 1
    assert meals[0].energy_wh >= runs[0].energy_wh > 150


def test_a_boat_file_may_name_it_while_the_catalogue_has_it(kind: Kind) -> None:
    options = SimOptions(days=1, kinds=(str(kind),))
    description = random_boat(5, options).description
    (appliance,) = parse_boat(description).appliances
    assert appliance.kind is WAFFLE_IRON


def test_a_boat_file_may_not_name_a_kind_that_is_not_in_the_catalogue() -> None:
    with waffle_iron_known() as kind:
        options = SimOptions(days=1, kinds=(str(kind),))
        description = random_boat(5, options).description
    assert WAFFLE_IRON not in list(KINDS)
    with refused(BoatError, "'waffle_iron' is not one of induction_hob, "):
        parse_boat(description)


def test_two_kinds_never_share_a_word(kind: Kind) -> None:
    with pytest.raises(ValueError, match="waffle_iron"):
        KINDS.add(Kind(kind.description))


def test_a_copied_kind_keeps_its_description() -> None:
    copied = deepcopy(IRON)
    assert copied == IRON
    assert copied.kind.traits == WAFFLE_IRON.traits


def test_a_circuit_whose_kind_may_only_be_cut_when_asked_asks() -> None:
    galley = cooked_once(Galley(galley_boat(appliances=(HOB, IRON), cut=CutRule.AUTO)))
    said = galley.pass_time(2 * HOUR)
    assert only(Ask, said)
    assert not only(Cut, said)


def test_a_circuit_is_not_cut_while_its_kind_cools_down() -> None:
    galley = Galley(galley_boat(appliances=(IRON,), cut=CutRule.ASK))
    galley.rules.keep("Galley 1", galley.at_s, galley.at_s + 1.4 * HOUR)
    galley.pass_time(HOUR)
    galley.running["Waffle iron"] = 1200
    galley.pass_time(20 * 60)
    galley.running.clear()
    last_seen_s = galley.at_s - 5
    galley.pass_time(2 * HOUR)
    assert (
        galley.question().question.asked_s
        >= last_seen_s + WAFFLE_IRON.traits.cool_down_s
    )


def test_every_kind_that_is_never_cut_says_why() -> None:
    for kind in KINDS:
        never = kind.traits.may_cut is MayCut.NEVER
        assert bool(kind.traits.never_cut_because) is never
        assert not never or Reason(kind.traits.never_cut_because)


def test_people_hear_that_it_is_hot_done_and_left_running() -> None:
    watch = Watch(galley_boat(appliances=(IRON,)))
    watch.on["Waffle iron"] = (1200, HEATING)
    watch.pass_time(6 * MINUTE)
    watch.on["Waffle iron"] = (400, HOLDING)
    said = watch.pass_time(4 * MINUTE)
    assert says(said, OccurrenceKind.AT_TEMPERATURE)
    said = watch.pass_time(45 * MINUTE)
    assert says(said, OccurrenceKind.LEFT_RUNNING)
    watch.on.clear()
    assert not says(watch.pass_time(3 * MINUTE), OccurrenceKind.FINISHED)
    assert says(watch.pass_time(2 * MINUTE), OccurrenceKind.FINISHED)


def test_automations_hear_that_it_started_is_hot_and_has_finished() -> None:
    iron_boat = galley_boat(appliances=(IRON,))
    reports, heard = Reports(iron_boat), list[AutomationEvent]()
    galley = Watch(iron_boat)

    def pass_time(seconds: float) -> None:
        until_s = galley.at_s + seconds
        while galley.at_s < until_s:
            heard.extend(reports.observe(galley.facts())[0])
            galley.at_s += 10.0

    pass_time(MINUTE)
    galley.on["Waffle iron"] = (1200, HEATING)
    pass_time(6 * MINUTE)
    galley.on["Waffle iron"] = (400, HOLDING)
    pass_time(15 * MINUTE)
    galley.on.clear()
    pass_time(6 * MINUTE)
    assert [(one.kind, one.subject) for one in heard] == [
        (OccurrenceKind.STARTED, "Waffle iron"),
        (OccurrenceKind.AT_TEMPERATURE, "Waffle iron"),
        (OccurrenceKind.FINISHED, "Waffle iron"),
    ]


def test_a_timer_may_wait_for_its_heat() -> None:
    timers = Timers(galley_boat(appliances=(IRON, HOB)))
    assert timers.set("Waffle iron", 10, NOON_S).state is TimerState.WAITING
    with refused(PhrasedError, "must hold a temperature"):
        timers.set("Hob", 10, NOON_S)


def test_no_code_outside_of_the_catalogue_knows_a_kind_by_name() -> None:
    for path in SOURCES.rglob("*.py"):
        # "Other" is a form of plurals as well, by the names of the CLDR.
        if path.is_relative_to(SOURCES / "core" / "kinds") or path.name == "plurals.py":
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            match node:
                case ast.Constant(value=str(word)):
                    assert word not in set(KINDS), f"{path}:{node.lineno}: {word}"
                case ast.Attribute(value=ast.Name(id="Kind" | "catalogue"), attr=name):
                    pytest.fail(f"{path}:{node.lineno}: {name}")
                case ast.ImportFrom(module=str(module), names=names) if module.endswith(
                    "kinds.catalogue"
                ):
                    assert [one.name for one in names] == ["KINDS"], path
