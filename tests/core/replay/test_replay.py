"""A whole history in, a report out."""

from datetime import datetime
import json

import pytest

from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.replay.replay import (
    Report,
    iso_time,
    replay,
    report_to_json,
)
from custom_components.galley_loads.language.report_tables import (
    report_in_json,
    report_text,
)
from tests.core.plain_boat import LOAD, START_S, at_rest, plain_boat
from tests.core.simulated_day import history, report
from tests.said import all_said, said

# The report's form is a contract that others read.
RUN_KEYS = [
    "appliance",
    "start",
    "end",
    "energy_wh",
    "peak_w",
    "confidence",
    "phases",
    "meal",
]

MEAL_KEYS = [
    "start",
    "end",
    "label",
    "appliances",
    "energy_wh",
    "bank_ah",
    "drawn_ah",
    "net_ah",
    "solar_share",
    "soc_start",
    "soc_end",
]

STANDBY_KEYS = ["appliance", "circuit", "mean_w", "energy_wh"]

REPORT_KEYS = [
    "boat",
    "from",
    "to",
    "runs",
    "meals",
    "standby",
    "appliance_wh",
    "background_wh",
    "unassigned_wh",
    "load_wh",
]


def test_the_report_has_the_form_that_others_read() -> None:
    told = report_to_json(report())

    assert set(told) >= set(REPORT_KEYS)
    assert told["runs"] and told["meals"]
    for run in told["runs"]:
        assert list(run) == RUN_KEYS
        assert run["phases"][0]["start"] == run["start"]
        assert run["phases"][-1]["end"] == run["end"]
    for meal in told["meals"]:
        assert list(meal) == MEAL_KEYS
    for account in told["standby"]:
        assert list(account) == STANDBY_KEYS
    assert json.loads(json.dumps(told)) == told


def test_times_are_iso_and_utc() -> None:
    _, readings, _ = history()
    told = report_to_json(report())
    assert told["from"] == iso_time(readings[0].at_s)
    assert datetime.fromisoformat(told["to"]).timestamp() == pytest.approx(
        readings[-1].at_s, abs=0.001
    )
    assert iso_time(0.0) == "1970-01-01T00:00:00.000Z"
    assert iso_time(None) is None


def test_every_watt_hour_of_the_load_is_somewhere() -> None:
    told = report_to_json(report())
    runs_wh = sum(run["energy_wh"] for run in told["runs"])
    parts_wh = (
        runs_wh
        + sum(account["energy_wh"] for account in told["standby"])
        + told["background_wh"]
        + told["unassigned_wh"]
    )
    assert parts_wh == pytest.approx(told["load_wh"], rel=1e-3)
    assert runs_wh == pytest.approx(sum(told["appliance_wh"].values()), rel=1e-3)
    assert told["unmeasured_s"] > 0


def test_a_run_points_at_its_meal_and_hot_water_at_none() -> None:
    told = report_to_json(report())
    for run in told["runs"]:
        if run["appliance"] == "Water heater":
            assert run["meal"] is None
            continue
        meal = told["meals"][run["meal"]]
        assert run["appliance"] in meal["appliances"]
        assert meal["start"] <= run["start"] <= run["end"] <= meal["end"]
    assert any(run["meal"] is None for run in told["runs"])
    energies_wh = [
        sum(run["energy_wh"] for run in told["runs"] if run["meal"] == index)
        for index in range(len(told["meals"]))
    ]
    assert energies_wh == pytest.approx(
        [m["energy_wh"] for m in told["meals"]], abs=0.01
    )


def test_the_report_is_what_the_engine_settled() -> None:
    boat, readings, _ = history()
    engine = Engine(boat)
    events = run_through(engine, readings)
    assert set(report().runs) == {e.run for e in events if isinstance(e, RunSettled)}
    assert list(report().meals) == [
        e.meal for e in events if isinstance(e, MealSettled)
    ]
    assert report().load_wh == engine.totals.load_wh


def test_progress_tells_the_time_that_was_reached() -> None:
    boat, readings, _ = history()
    reached: list[float] = []
    replay(boat, readings[:11_000], reached.append)
    assert reached == [readings[4_999].at_s, readings[9_999].at_s]


def test_no_readings_are_an_empty_report() -> None:
    boat, _, _ = history()
    empty = replay(boat, ())
    told = report_to_json(empty)
    assert (told["from"], told["to"], told["runs"], told["load_wh"]) == (
        None,
        None,
        [],
        0,
    )
    text = report_text(empty)
    assert text.startswith(f"{boat.name}: no readings\n\nNo meals.")
    assert "No standby draw found." in text


def test_hours_in_which_no_sensor_tells_a_value_are_not_measured() -> None:
    boat, _, _ = history()
    sensor = boat.sensors.ac_load_power
    assert sensor is not None
    away = [
        Reading(sensor.entity_id, "unavailable", START_S + 60 * n) for n in range(61)
    ]
    back = [
        Reading(sensor.entity_id, str(90 + n % 2), START_S + 3660 + n)
        for n in range(60)
    ]
    assert replay(boat, away).unmeasured_s == 3600
    assert replay(boat, [*away, *back]).unmeasured_s == 3660


def test_standby_is_told_with_its_circuit_and_power() -> None:
    hob = {
        "name": "Hob",
        "kind": "induction_hob",
        "rated_power": 1800,
        "standby_power": 20,
        "circuit": "Galley 1",
    }
    galley_1 = {"name": "Galley 1", "breaker_current": 16, "voltage": 230}
    boat = plain_boat(appliances=[hob], circuits=[galley_1])
    idle = replay(boat, at_rest(721))

    (account,) = report_to_json(idle)["standby"]
    assert (account["appliance"], account["circuit"]) == ("Hob", "Galley 1")
    assert account["mean_w"] == pytest.approx(20, abs=0.01)
    assert account["energy_wh"] == pytest.approx(20, abs=0.1)
    (line,) = [text for text in report_text(idle).splitlines() if "Galley 1" in text]
    assert line.split() == ["Hob", "Galley", "1", "20.0", "20"]


def metered_loads(sign: int) -> Report:
    """Replay a boat whose loads of 60 and 1,200 W are metered with a sign."""
    boat = plain_boat(
        sensors={"ac_load_power": LOAD, "battery_soc": "sensor.charge"},
    )
    loads_w = [1200 if n % 60 < 12 else 60 + n % 2 for n in range(600)]
    return replay(
        boat,
        [
            Reading(LOAD, str(sign * load_w), START_S + 15 * n)
            for n, load_w in enumerate(loads_w)
        ],
    )


def test_a_meter_that_counts_backwards_and_one_that_is_silent_are_told_of() -> None:
    backwards, as_it_should = metered_loads(-1), metered_loads(1)
    assert all_said(as_it_should.remarks) == (
        "The battery gauge (sensor.charge) has not been heard yet.",
    )
    turned, silent = all_said(backwards.remarks)
    assert silent == said(as_it_should.remarks[0])
    assert turned.startswith(
        "The AC load meter (sensor.ac) seems to be read the wrong way round; needed is"
        " reversed: true. "
    )
    assert report_in_json(backwards)["remarks"] == [turned, silent]
    assert report_text(backwards).endswith(f"\n\n{turned}\n{silent}\n")
