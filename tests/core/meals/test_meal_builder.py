"""Runs that belong together are a meal."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from custom_components.galley_loads.core.inference.model.activity import (
    Phase,
    PhaseSpan,
    Run,
)
from custom_components.galley_loads.core.ledger.account import Flow
from custom_components.galley_loads.core.meals.meal_builder import (
    HOT_DRINK,
    Meal,
    MealBuilder,
    group_runs,
    label_at,
    meal_from_mapping,
    meal_to_mapping,
)
from tests.core.boats import small_boat

MINUTE = 60.0


def _at(hour: int, minute: int = 0) -> float:
    return datetime(2026, 5, 12, hour, minute, tzinfo=UTC).timestamp()


def _run(appliance: str, start_s: float, minutes: float, wh: float = 100) -> Run:
    end_s = start_s + minutes * MINUTE
    phases = (PhaseSpan(Phase.HEATING, start_s, end_s),)
    return Run(
        appliance, start_s, end_s, wh, 1500, 0.9, phases, wh / 11.52, wh / 23.04, wh / 2
    )


def _meals(*runs: Run, until_s: float = _at(23), **changes: object) -> list[Meal]:
    book = MealBuilder(small_boat(**changes))
    for run in sorted(runs, key=lambda r: r.end_s):
        book.add_run(run)
    return book.take_finished(until_s, [])


def test_runs_less_than_half_an_hour_apart_are_one_meal() -> None:
    (meal,) = _meals(_run("Hob", _at(19), 20), _run("Oven", _at(19, 49), 30))
    assert meal.appliances == ("Hob", "Oven")
    assert (meal.start_s, meal.end_s) == (_at(19), _at(20, 19))
    assert meal.energy_wh == pytest.approx(200)
    assert meal.solar_share == pytest.approx(0.5)


def test_half_an_hour_of_quiet_ends_a_meal() -> None:
    assert len(_meals(_run("Hob", _at(19), 20), _run("Oven", _at(19, 50), 30))) == 2


def test_the_owner_may_set_another_gap() -> None:
    runs = (_run("Hob", _at(19), 20), _run("Oven", _at(19, 50), 30))
    assert len(_meals(*runs, meal_gap_minutes=45.0)) == 1


def test_a_long_run_holds_together_what_happens_meanwhile() -> None:
    runs = [
        _run("Hob", _at(17), 10),
        _run("Oven", _at(17, 5), 120),
        _run("Kettle", _at(19), 3),
    ]
    assert len(_meals(*runs)) == 1


def test_hot_water_from_a_heater_is_never_part_of_a_meal() -> None:
    (meal,) = _meals(_run("Hob", _at(12), 20), _run("Water heater", _at(12, 10), 60))
    assert meal.appliances == ("Hob",)
    assert _meals(_run("Water heater", _at(8), 40)) == []


def test_a_kettle_alone_is_a_hot_drink() -> None:
    (drink,) = _meals(_run("Kettle", _at(16), 3), _run("Kettle", _at(16, 10), 3))
    assert drink.label == HOT_DRINK
    (dinner,) = _meals(_run("Kettle", _at(19), 3), _run("Hob", _at(19, 10), 20))
    assert dinner.label == "dinner"


def test_the_label_follows_the_boats_time_not_utc() -> None:
    """In May the Azores are at UTC+0; Auckland is at UTC+12."""
    run = _run("Hob", _at(19, 30), 20)
    assert _meals(run)[0].label == "dinner"
    (elsewhere,) = _meals(run, time_zone=ZoneInfo("Pacific/Auckland"))
    assert elsewhere.label == "breakfast"


@pytest.mark.parametrize(
    ("boat_time", "label"),
    [
        (time(3, 59), "night snack"),
        (time(4), "breakfast"),
        (time(10, 29), "breakfast"),
        (time(10, 30), "lunch"),
        (time(15), "snack"),
        (time(17), "dinner"),
        (time(22, 30), "night snack"),
    ],
)
def test_every_hour_has_its_label(boat_time: time, label: str) -> None:
    assert label_at(boat_time) == label


def test_a_meal_is_not_over_while_something_may_still_join() -> None:
    book = MealBuilder(small_boat())
    book.add_run(_run("Kettle", _at(19), 3))
    assert book.take_finished(_at(19, 20), []) == []
    oven = _run("Oven", _at(19, 20), 10)
    assert book.take_finished(_at(21), [oven]) == []
    current = book.current(_at(19, 31), [oven])
    assert current is not None
    assert current.appliances == ("Kettle", "Oven")
    book.add_run(_run("Oven", _at(19, 20), 90))
    (meal,) = book.take_finished(_at(23), [])
    assert meal.appliances == ("Kettle", "Oven")
    assert book.current(_at(23), []) is None


def test_the_meal_knows_what_the_battery_monitor_counted_meanwhile() -> None:
    book = MealBuilder(small_boat())
    for minute in range(60):
        start_s = _at(19) + minute * MINUTE
        book.add_flow(
            Flow(start_s, start_s + MINUTE, 10.0, net_ah=0.5, soc=80.0 - minute * 0.1)
        )
    book.add_run(_run("Hob", _at(19, 10), 20))
    (meal,) = book.take_finished(_at(23), [])
    assert meal.net_ah == pytest.approx(10)
    assert meal.soc_start == pytest.approx(79.1)
    assert meal.soc_end == pytest.approx(77.1)


def test_without_a_bank_meter_the_net_is_not_told() -> None:
    book = MealBuilder(small_boat())
    book.add_flow(Flow(_at(19), _at(20), 10.0))
    book.add_run(_run("Hob", _at(19, 10), 20))
    (meal,) = book.take_finished(_at(23), [])
    assert meal.net_ah is None
    assert meal.soc_end is None


def test_a_meter_that_fell_silent_for_half_a_meal_tells_nothing_of_it() -> None:
    told: dict[float, Meal] = {}
    for silent_s in (0.0, MINUTE, 10 * MINUTE):
        book = MealBuilder(small_boat())
        for start_s in (_at(19), _at(19, 20)):
            unknown = {"net_unknown_s": silent_s / 2, "sun_unknown_s": silent_s / 2}
            book.add_flow(
                Flow(start_s, start_s + 20 * MINUTE, 10.0, net_ah=5.0, **unknown)
            )
        book.add_run(_run("Hob", _at(19, 10), 20))
        (told[silent_s],) = book.take_finished(_at(23), [])
    assert told[MINUTE] == told[0.0]
    assert (told[0.0].net_ah, told[0.0].solar_share) == (5.0, 0.5)
    silent = told[10 * MINUTE]
    assert (silent.net_ah, silent.solar_share) == (None, None)
    assert silent.energy_wh == told[0.0].energy_wh


def test_a_meal_in_progress_survives_a_restart() -> None:
    book = MealBuilder(small_boat())
    book.add_flow(Flow(_at(19), _at(19, 30), 10.0, net_ah=4.0, soc=70.0))
    book.add_run(_run("Hob", _at(19, 5), 20))
    again = MealBuilder(small_boat())
    again.restore(book.snapshot())
    assert again.take_finished(_at(23), []) == book.take_finished(_at(23), [])


def test_a_meal_comes_back_from_plain_data_as_it_was() -> None:
    (meal,) = _meals(_run("Hob", _at(19), 20), _run("Oven", _at(19, 49), 30))
    assert meal_from_mapping(meal_to_mapping(meal)) == meal


def test_an_appliance_that_left_the_boat_keeps_its_meals() -> None:
    (meal,) = _meals(_run("Old hob", _at(19), 20))
    assert meal.appliances == ("Old hob",)
    assert meal.label == "dinner"


def test_grouping_needs_no_order() -> None:
    runs = [
        _run("Hob", _at(19), 20),
        _run("Kettle", _at(7), 3),
        _run("Oven", _at(19, 5), 9),
    ]
    assert [len(group) for group in group_runs(runs, 1800)] == [1, 2]
