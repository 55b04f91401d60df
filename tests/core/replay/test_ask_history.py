"""A question put to a history, as `script/advise` does."""

import csv
from datetime import UTC, datetime, timedelta
from functools import cache
import json
from pathlib import Path
from typing import Any

import pytest

from custom_components.galley_loads.core.advice import Verdict, request_dish
from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_file import read_boat
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.replay.ask_history import ask_history
from tests.core.outlook.outlook_rig import (
    DAY_S,
    Life,
    broken_clouds,
    cooking_boat,
    unix,
)
from tests.core.plain_python import run_many
from tests.said import all_said

BOAT_FILE = """\
name: Sandpiper
latitude: 38.53
longitude: -28.62
time_zone: Atlantic/Azores
sensors:
  ac_load_power: sensor.load
  solar_power: sensor.sun
  battery_power: sensor.bank
  battery_voltage: sensor.volts
  battery_soc: sensor.soc
bank: {capacity_ah: 560, nominal_voltage: 12.8, reserve_soc: 35}
inverter: {continuous_power: 2500, idle_power: 18, efficiency: 0.9}
solar: {array_power: 540, forecast: [sensor.sun_today, sensor.sun_tomorrow]}
appliances:
  - {name: Hob, kind: induction_hob, rated_power: 1800}
  - {name: Oven, kind: oven, rated_power: 1500}
dishes:
  - {name: Fish stew, appliances: {Hob: 25}, energy: 420}
  - {name: Feast, appliances: {Hob: 30, Oven: 60}}
"""

START_S = unix("2026-05-01T00:00:00")
ASKED_S = START_S + 4 * DAY_S + 7 * 3600

CONTRACT = {
    "verdict", "start", "confidence", "dish_wh", "dish_ah", "peak_w", "soc_now",
    "soc_lowest", "soc_lowest_p10", "lowest_at", "full_at", "from_sun_wh", "starts",
    "forecast", "reasons", "left_ah", "left_wh",
}  # fmt: skip


@cache
def readings(days: float = 5.0) -> tuple[Reading, ...]:
    """What the boat's sensors said, changes only."""
    said: list[Reading] = []
    last: dict[str, str] = {}

    class Recorder(Outlook):
        def observe(self, sample: LoadSample) -> None:
            values = {
                "sensor.load": sample.load_w,
                "sensor.sun": sample.solar_w,
                "sensor.bank": sample.battery_w,
                "sensor.volts": sample.voltage_v,
                "sensor.soc": sample.soc,
            }
            for entity_id, value in values.items():
                state = str(round(value or 0.0, 1))
                if last.get(entity_id) != state:
                    last[entity_id] = state
                    said.append(Reading(entity_id, state, sample.at_s))

    boat = cooking_boat()
    Life(boat, clear_sky_index=broken_clouds, soc=75.0).live(
        Recorder(boat), START_S, days
    )
    return tuple(said)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("asked")
    boat, history = folder / "boat.yaml", folder / "history.csv"
    boat.write_text(BOAT_FILE)
    with history.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["entity_id", "state", "last_changed"])
        for reading in readings():
            moment = datetime.fromtimestamp(reading.at_s, UTC).isoformat()
            writer.writerow([reading.entity_id, reading.state, moment])
        told = datetime.fromtimestamp(ASKED_S - 60, UTC)
        for name, state in (("sensor.sun_today", "1.1"), ("sensor.sun_tomorrow", "x")):
            writer.writerow([name, state, told.isoformat()])
    return boat, history


@pytest.fixture(scope="module")
def answers(files: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Any:
    boat, history = files
    folder = tmp_path_factory.mktemp("answers")
    at = datetime.fromtimestamp(ASKED_S, UTC)
    lines = [
        [boat, history, "--at", at.isoformat(), "--dish", "Fish stew", "--json", folder / "1"],
        [boat, history, "--at", at.replace(tzinfo=None).isoformat(), "--dish", "Feast"],
        [boat, history, "--at", (at + timedelta(days=9)).isoformat(), "--dish", "Feast", "--json", folder / "3"],
        [boat, history, "--at", "at noon", "--dish", "Feast"],
        [boat, history, "--at", at.isoformat(), "--dish", "Soup"],
        [boat, history, "--dish", "Soup"],
        [folder / "none.yaml", history, "--at", at.isoformat(), "--dish", "Feast"],
        [boat, folder / "none.csv", "--at", at.isoformat(), "--dish", "Feast"],
        [boat, history, "--at", at.isoformat(), "--dish", "Feast", "--json", folder],
        [boat, history, "--at", at.isoformat(), "--dish", "Fish stew", "--instead-of", "dinner", "--patience", "high", "--json", folder / "9"],
        [boat, history, "--at", at.isoformat(), "--dish", "Fish stew", "--patience", "endless"],
    ]  # fmt: skip
    outcomes, modules = run_many("_advise.py", lines)
    return outcomes, modules, folder


def test_the_answer_has_the_contracts_form(answers):
    outcomes, _, folder = answers
    assert (outcomes[0].status, outcomes[0].err) == (0, "")
    content = json.loads((folder / "1").read_text())
    assert set(content) >= CONTRACT
    assert content["verdict"] in {"cook_now", "wait", "hold_off"}
    assert content["dish_wh"] == 420.0
    assert set(content["starts"][0]) >= {
        "start", "drawn_ah", "soc_lowest", "soc_lowest_p10", "chance_above_reserve",
    }  # fmt: skip
    assert set(content["forecast"][0]) >= {
        "time", "solar_w", "solar_w_p10", "solar_w_p90", "background_w",
    }  # fmt: skip
    for row in content["starts"]:
        assert datetime.fromisoformat(row["start"]).utcoffset() == timedelta(0)


def test_a_dish_instead_of_dinner_leaves_more_in_the_bank(answers):
    outcomes, _, folder = answers
    assert (outcomes[9].status, outcomes[9].err) == (0, "")
    beside, instead = (json.loads((folder / name).read_text()) for name in "19")
    assert instead["soc_lowest"] >= beside["soc_lowest"]
    assert instead["forecast"][-1]["soc"] >= beside["forecast"][-1]["soc"]
    # What may be cooked in all does not depend on what it is called.
    assert instead["left_wh"] == beside["left_wh"]


def test_the_answer_is_printed_for_a_person(answers):
    outcomes, _, _ = answers
    assert outcomes[0].out.startswith("Fish stew: ")
    assert "keeps reserve" in outcomes[0].out
    assert "Overload: 3,3" in outcomes[1].out
    assert outcomes[1].out.startswith("Feast: hold off")


def test_nine_days_after_the_last_reading_it_cannot_tell(answers):
    outcomes, _, folder = answers
    assert outcomes[2].status == 0
    content = json.loads((folder / "3").read_text())
    assert content["verdict"] == "unknown"
    assert content["start"] is None
    assert "days old" in content["reasons"][0]


@pytest.mark.parametrize(
    ("line", "text"),
    [
        (3, "--at: 'at noon' is not an ISO time"),
        (4, "'Soup' is not one of the boat's dishes (Fish stew, Feast)"),
        (5, "--at"),
        (6, "none.yaml"),
        (7, "none.csv"),
        (8, "--json"),
        (10, "--patience"),
    ],
)
def test_bad_input_is_one_line_and_status_2(answers, line, text):
    outcome = answers[0][line]
    assert outcome.status == 2
    assert outcome.err.count("\n") == 1
    assert text in outcome.err
    assert "Traceback" not in outcome.err


def test_it_runs_without_the_platform(answers):
    modules = answers[1]
    assert not any(name.split(".")[0] == "homeassistant" for name in modules)
    assert not any(
        name.split(".")[0] in {"numpy", "scipy", "pandas"} for name in modules
    )


def boat_of(files: tuple[Path, Path]) -> Boat:
    return read_boat(files[0])


def test_later_readings_are_not_looked_at(files):
    boat = boat_of(files)
    request = request_dish(boat, "Fish stew")
    whole = ask_history(boat, readings(), ASKED_S, request)
    cut = [r for r in readings() if r.at_s <= ASKED_S]
    assert ask_history(boat, cut, ASKED_S, request) == whole
    assert whole.verdict is not Verdict.UNKNOWN


def test_a_gauge_that_went_away_is_named(files):
    boat = boat_of(files)
    said = [r for r in readings() if r.at_s < ASKED_S - 30.0]
    said.append(Reading("sensor.soc", "unavailable", ASKED_S - 30.0))
    answer = ask_history(boat, said, ASKED_S, request_dish(boat, "Fish stew"))
    assert answer.verdict is Verdict.UNKNOWN
    assert any("sensor.soc" in reason for reason in all_said(answer.reasons))


def test_a_meter_that_is_named_as_a_forecast_stays_a_meter(files, tmp_path):
    named = tmp_path / "boat.yaml"
    text = files[0].read_text()
    named.write_text(
        text.replace("[sensor.sun_today, sensor.sun_tomorrow]", "[sensor.sun]")
    )
    request = request_dish(boat_of(files), "Fish stew")
    answer = ask_history(read_boat(named), readings(), ASKED_S, request)
    assert answer.starts
    assert answer == ask_history(boat_of(files), readings(), ASKED_S, request)
