"""The book of what is known: stated or learnt, present or not, saved and restored."""

import json
from random import Random

from hypothesis import given, settings, strategies as st

from custom_components.galley_loads.core.boat.boat import Appliance
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.standby import StandbyLearner, StandbySource

from .resting_day import GALLEY_1, HOB, OVEN, START_S, Day, boat_with


def test_a_stated_standby_is_told_until_something_better_is_known() -> None:
    stated = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, standby_power_w=20)
    book = StandbyLearner(boat_with(stated))
    figure = book.figure("Hob")
    assert figure is not None
    assert (figure.power_w, figure.source) == (20, StandbySource.STATED)
    assert book.standby_w("Hob", START_S) == 20


def test_an_unknown_standby_is_not_invented() -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    Day(book).rest(3600, 120)
    assert book.standby_w("Hob") is None
    assert book.circuit_standby_w("Galley 1") is None


def test_an_open_circuit_draws_no_standby() -> None:
    hob = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    book = StandbyLearner(boat_with(hob, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(60, 140)
    assert book.present_w("Hob", day.at_s, ()) == 20
    day.rest(60, 120, open_circuits=("Galley 1",))
    assert book.present_w("Hob", day.at_s, ()) == 0


def test_a_circuits_standby_is_the_sum_of_what_is_known_on_it() -> None:
    hob = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    oven = Appliance("Oven", catalogue.OVEN, 1500, 5, circuit="Galley 1")
    book = StandbyLearner(boat_with(hob, oven, circuits=(GALLEY_1,)))
    figure = book.circuit_figure("Galley 1")
    assert figure is not None
    assert (figure.power_w, figure.source) == (25, StandbySource.STATED)


def test_a_book_restored_halfway_tells_the_same() -> None:
    boat = boat_with(HOB, circuits=(GALLEY_1,))
    whole, first = StandbyLearner(boat), StandbyLearner(boat)
    one, two = Day(whole), Day(first)
    for day in (one, two):
        day.rest(600, 142)
        day.rest(12, 120, open_circuits=("Galley 1",))
    second = StandbyLearner(boat)
    second.restore(json.loads(json.dumps(first.snapshot())))
    two.book = second
    for day in (one, two):
        day.rest(600, 120, open_circuits=("Galley 1",))
        day.rest(600, 142)
    assert second.snapshot() == whole.snapshot()
    assert second.circuit_standby_w("Galley 1") == whole.circuit_standby_w("Galley 1")


def test_a_book_restored_into_a_boat_without_the_appliance_forgets_it() -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(600, 120, open_circuits=("Galley 1",))
    plain = StandbyLearner(boat_with(Appliance("Kettle", catalogue.KETTLE, 2000)))
    plain.restore(json.loads(json.dumps(book.snapshot())))
    assert plain.standby_w("Kettle") is None
    assert plain.circuit_standby_w("Galley 1") is None


@settings(max_examples=30, deadline=None)
@given(
    loads=st.lists(st.one_of(st.none(), st.floats(0, 4000)), min_size=1, max_size=300),
    seed=st.integers(0, 99),
)
def test_the_books_memory_is_bounded_and_writable(
    loads: list[float | None], seed: int
) -> None:
    random = Random(seed)
    book = StandbyLearner(boat_with(HOB, OVEN, circuits=(GALLEY_1,)))
    for index, load_w in enumerate(loads * 10):
        opened = frozenset({"Galley 1"}) if random.random() < 0.3 else frozenset[str]()
        running = [name for name in ("Hob", "Oven") if random.random() < 0.2]
        book.observe(
            LoadSample(START_S + 20 * index, load_w, open_circuits=opened), running
        )
    assert len(json.dumps(book.snapshot())) < 20_000
