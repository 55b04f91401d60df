"""What a circuit draws, seen when its relay opens and closes."""

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Circuit, Sensor
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.standby import StandbyLearner, StandbySource

from .resting_day import GALLEY_1, HOB, OVEN, START_S, Day, boat_with


@pytest.mark.parametrize("true_w", [9.0, 22.0, 41.0])
def test_opening_the_relay_shows_what_the_circuit_drew(true_w: float) -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    for _ in range(3):
        day.rest(600, 120 + true_w)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(true_w, abs=1.5)
    figure = book.figure("Hob")
    assert figure is not None
    assert figure.source is StandbySource.RELAY
    assert figure.power_w == pytest.approx(true_w, abs=1.5)


def test_a_fridge_that_starts_with_the_relay_spoils_only_one_measurement() -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(4, 120, open_circuits=("Galley 1",))
    day.rest(600, 120 - 55, open_circuits=("Galley 1",))  # a fridge stopped as well
    for _ in range(3):
        day.rest(600, 142)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(22, abs=2)


@pytest.mark.parametrize("period_s", [10, 30, 60])
def test_a_slow_meter_is_waited_for(period_s: int) -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    for turn in range(40):
        load_w = 142.0 if turn % 20 <= 10 else 120.0  # falls a period after the relay
        opened = turn % 20 >= 10
        at_s = START_S + turn * period_s
        circuits = frozenset({"Galley 1"} if opened else ())
        book.observe(LoadSample(at_s, load_w, open_circuits=circuits), ())
    assert book.circuit_standby_w("Galley 1") == pytest.approx(22, abs=0.5)


def test_two_appliances_on_a_circuit_are_not_told_apart_by_force() -> None:
    book = StandbyLearner(boat_with(HOB, OVEN, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 150)
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") == pytest.approx(30, abs=1.5)
    assert book.standby_w("Hob") is None
    assert book.standby_w("Oven") is None


def test_the_owners_figures_say_how_two_appliances_share_a_circuit() -> None:
    hob = Appliance("Hob", catalogue.INDUCTION_HOB, 1800, 20, circuit="Galley 1")
    oven = Appliance("Oven", catalogue.OVEN, 1500, 5, circuit="Galley 1")
    book = StandbyLearner(boat_with(hob, oven, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 150)
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.standby_w("Hob") == pytest.approx(24, abs=1.5)
    assert book.standby_w("Oven") == pytest.approx(6, abs=1)


def test_a_metered_neighbour_leaves_the_rest_to_the_other() -> None:
    oven = Appliance(
        "Oven",
        catalogue.OVEN,
        1500,
        power_sensor=Sensor("sensor.oven"),
        circuit="Galley 1",
    )
    book = StandbyLearner(boat_with(HOB, oven, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(1800, 150, metered_w={"Oven": 6.0})
    day.rest(600, 120, open_circuits=("Galley 1",), metered_w={"Oven": 0.0})
    assert book.standby_w("Oven") == pytest.approx(6.0, abs=0.2)
    assert book.standby_w("Hob") == pytest.approx(24, abs=1.5)


def test_a_relay_that_moves_while_somebody_cooks_teaches_nothing() -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 1900, running=("Hob",))
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None


def test_a_gap_across_the_relays_move_teaches_nothing() -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book)
    day.rest(600, 142)
    day.rest(10, 120, open_circuits=("Galley 1",))
    day.rest(10, None, open_circuits=("Galley 1",))
    day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None


def test_what_a_circuit_likely_draws_goes_by_kind_until_it_is_measured() -> None:
    kettle = Appliance("Kettle", catalogue.KETTLE, 2000, circuit="Galley 2")
    galley_2 = Circuit("Galley 2", 16, 230, relay="switch.galley_2")
    book = StandbyLearner(boat_with(HOB, kettle, circuits=(GALLEY_1, galley_2)))
    assert book.likely_w("Galley 1") == catalogue.INDUCTION_HOB.default_standby_w > 3
    assert book.likely_w("Galley 2") == 0
    day = Day(book)
    for _ in range(2):
        day.rest(600, 120)
        day.rest(600, 119.5, open_circuits=("Galley 1",))
    assert book.circuit_standby_w("Galley 1") is None
    assert book.likely_w("Galley 1") < 3
    for _ in range(7):
        day.rest(600, 140)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.likely_w("Galley 1") == book.circuit_standby_w("Galley 1")
