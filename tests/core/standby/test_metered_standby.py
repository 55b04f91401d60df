"""An appliance with a meter of its own tells its standby itself."""

import json

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance, Sensor
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.standby import StandbyLearner

from .resting_day import HOB, Day, boat_with

KETTLE = Appliance(
    "Kettle", catalogue.KETTLE, 2000, power_sensor=Sensor("sensor.kettle")
)


def test_an_own_meter_tells_standby_and_ignores_the_unplugged_hours() -> None:
    book = StandbyLearner(boat_with(KETTLE))
    day = Day(book)
    day.rest(1800, 120, metered_w={"Kettle": 0.0})
    day.rest(120, 2100, metered_w={"Kettle": 2000.0}, running=("Kettle",))
    for _ in range(20):
        day.rest(120, 120, metered_w={"Kettle": 3.1})
        day.rest(60, 120, metered_w={"Kettle": 3.3})
    assert book.standby_w("Kettle") == pytest.approx(3.2, abs=0.15)
    assert book.present_w("Kettle", day.at_s, ()) == pytest.approx(3.3)
    assert book.present_w("Kettle", day.at_s, ("Kettle",)) == 0.0


def test_an_own_meter_that_counts_in_tens_quotes_nothing_below_ten() -> None:
    book = StandbyLearner(boat_with(KETTLE))
    day = Day(book)
    for _ in range(60):
        day.rest(40, 120, metered_w={"Kettle": 0.0})
        day.rest(20, 120, metered_w={"Kettle": 10.0})
    assert book.figure("Kettle") is None
    # What it can tell is quoted.
    for _ in range(60):
        day.rest(40, 120, metered_w={"Kettle": 20.0})
        day.rest(20, 120, metered_w={"Kettle": 30.0})
    figure = book.figure("Kettle")
    assert figure is not None
    assert figure.power_w >= 10


def test_a_metered_appliance_is_still_known_after_a_restart() -> None:
    book = StandbyLearner(boat_with(KETTLE))
    day = Day(book)
    day.rest(30 * 60, 120, metered_w={"Kettle": 3.0})
    again = StandbyLearner(boat_with(KETTLE))
    again.restore(json.loads(json.dumps(book.snapshot())))
    assert again.standby_w("Kettle") == book.standby_w("Kettle") == 3.0
    assert again.snapshot() == book.snapshot()


def test_a_meter_that_is_lost_shows_no_present_standby_of_its_own() -> None:
    book = StandbyLearner(boat_with(KETTLE))
    day = Day(book)
    day.rest(30 * 60, 120, metered_w={"Kettle": 3.0})
    book.observe(LoadSample(day.at_s, 120.0, metered_w=(("Kettle", None),)), ())
    assert book.present_w("Kettle", day.at_s, ()) == 3.0


def test_a_restart_while_a_metered_kettle_boils_changes_nothing() -> None:
    boat = boat_with(HOB, KETTLE)
    whole, first = StandbyLearner(boat), StandbyLearner(boat)
    one, two = Day(whole), Day(first)
    for day in (one, two):
        day.rest(600, 120, metered_w={"Kettle": 0.0})
        day.rest(60, 2100, running=("Kettle",), metered_w={"Kettle": 1980.0})
    second = StandbyLearner(boat)
    second.restore(json.loads(json.dumps(first.snapshot())))
    two.book = second
    for day in (one, two):
        day.rest(60, 2100, running=("Kettle",), metered_w={"Kettle": 1980.0})
        day.rest(1800, 120, metered_w={"Kettle": 0.0})
    assert second.snapshot() == whole.snapshot()
    assert not whole.snapshot()["switches"]["near"]
