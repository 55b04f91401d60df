"""A whole history in, a report and its tables out."""

from datetime import datetime
from functools import cache
import json
import os
from pathlib import Path
import pty
import subprocess
import sys
from typing import Any

import pytest

from custom_components.galley_loads.core.boat import Boat
from custom_components.galley_loads.core.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import MealSettled, RunSettled
from custom_components.galley_loads.core.readings import Reading
from custom_components.galley_loads.core.replay import (
    Report,
    iso_time,
    replay,
    report_to_json,
)
from custom_components.galley_loads.core.tables import duration, report_text
from demo.simulator import SimOptions, random_boat, simulate

from .plain_python import DATA, ROOT, run_many
from .test_history import BROKEN_HISTORIES

PETREL = DATA / "boats" / "petrel.yaml"

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


@cache
def history() -> tuple[Boat, tuple[Reading, ...], dict[str, Any]]:
    """Return a simulated day (invented) of hob, kettle and water heater."""
    options = SimOptions(
        days=1,
        kinds=("induction_hob", "kettle", "water_heater"),
        period_s=5,
        start="2026-05-11T00:00:00+00:00",
        dropouts_per_day=4,
    )
    boat = random_boat(5, options)
    rows = simulate(boat, 5, options).rows()
    readings = tuple(
        # To the millisecond, as a file of history holds them.
        Reading(
            entity_id, state, datetime.fromisoformat(str(iso_time(at_s))).timestamp()
        )
        for entity_id, state, at_s in rows
    )
    return parse_boat(boat.description), readings, boat.description


@cache
def report() -> Report:
    boat, readings, _ = history()
    return replay(boat, readings)


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
        Reading(sensor.entity_id, "unavailable", 1778484600.0 + 60 * n)
        for n in range(61)
    ]
    back = [
        Reading(sensor.entity_id, str(90 + n % 2), 1778488260.0 + n) for n in range(60)
    ]
    assert replay(boat, away).unmeasured_s == 3600
    assert replay(boat, [*away, *back]).unmeasured_s == 3660


def test_the_tables_tell_meals_in_boat_time_and_where_the_load_went() -> None:
    text = report_text(report())
    lines = text.splitlines()
    first = report().meals[0]
    local = datetime.fromtimestamp(first.start_s, report().boat.time_zone)

    (header,) = [line for line in lines if line.startswith("Meal")]
    assert header.split() == (
        [
            "Meal",
            "Lasted",
            "Label",
            "Appliances",
            "Wh",
            "Bank",
            "Ah",
            "Drawn",
            "Ah",
            "Net",
            "Ah",
            "Sun",
            "Charge",
        ]
    )
    meal = lines[lines.index(header) + 1]
    assert meal.startswith(local.strftime("%a %d %b %H:%M"))
    assert first.label in meal and f"{first.energy_wh:.0f}" in meal
    assert len(meal) <= 130
    for word in ("Hob", "Kettle", "Water heater", "background", "unassigned", "load"):
        assert word in text
    assert "Not measured:" in text
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0:00 min"),
        (64, "1:04 min"),
        (599, "9:59 min"),
        (1500, "25 min"),
        (3570, "1:00 h"),
        (9000, "2:30 h"),
    ],
)
def test_a_duration_is_told_as_a_cook_would(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_a_boat_without_appliances_still_tells_where_its_load_went() -> None:
    boat = parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "UTC",
            "sensors": {"ac_load_power": "sensor.ac"},
            "bank": {"capacity_ah": 420, "nominal_voltage": 12.8, "reserve_soc": 30},
        }
    )
    readings = [
        Reading("sensor.ac", str(90 + n % 2), 1778484600.0 + 5 * n) for n in range(99)
    ]
    text = report_text(replay(boat, readings))
    assert "No meals." in text and "Appliance " not in text and "load" in text


def test_standby_is_told_with_its_circuit_and_power() -> None:
    boat = parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "UTC",
            "sensors": {"ac_load_power": "sensor.ac"},
            "bank": {"capacity_ah": 420, "nominal_voltage": 12.8, "reserve_soc": 30},
            "appliances": [
                {
                    "name": "Hob",
                    "kind": "induction_hob",
                    "rated_power": 1800,
                    "standby_power": 20,
                    "circuit": "Galley 1",
                }
            ],
            "circuits": [{"name": "Galley 1", "breaker_current": 16, "voltage": 230}],
        }
    )
    readings = [
        Reading("sensor.ac", str(90 + n % 2), 1778484600.0 + 5 * n) for n in range(721)
    ]
    idle = replay(boat, readings)

    (account,) = report_to_json(idle)["standby"]
    assert (account["appliance"], account["circuit"]) == ("Hob", "Galley 1")
    assert account["mean_w"] == pytest.approx(20, abs=0.01)
    assert account["energy_wh"] == pytest.approx(20, abs=0.1)
    (line,) = [text for text in report_text(idle).splitlines() if "Galley 1" in text]
    assert line.split() == ["Hob", "Galley", "1", "20.0", "20"]


def metered_loads(sign: int) -> Report:
    """Replay a boat whose loads of 60 and 1,200 W are metered with a sign."""
    boat = parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "UTC",
            "sensors": {
                "ac_load_power": "sensor.ac",
                "battery_soc": "sensor.charge",
            },
            "bank": {"capacity_ah": 420, "nominal_voltage": 12.8, "reserve_soc": 30},
        }
    )
    return replay(
        boat,
        [
            Reading(
                "sensor.ac",
                str(sign * (1200 if n % 60 < 12 else 60 + n % 2)),
                1778484600.0 + 15 * n,
            )
            for n in range(600)
        ],
    )


def test_a_meter_that_counts_backwards_and_one_that_is_silent_are_told_of() -> None:
    backwards, as_it_should = metered_loads(-1), metered_loads(1)
    assert as_it_should.remarks == (
        "The battery gauge (sensor.charge) has not been heard yet.",
    )
    turned, silent = backwards.remarks
    assert silent == as_it_should.remarks[0]
    assert turned.startswith(
        "The AC load meter (sensor.ac) seems to be read the wrong way round; needed is"
        " reversed: true. "
    )
    assert report_to_json(backwards)["remarks"] == [turned, silent]
    assert report_text(backwards).endswith(f"\n\n{turned}\n{silent}\n")


def write_history(path: Path, readings: tuple[Reading, ...]) -> Path:
    rows = (f"{r.entity_id},{r.state},{iso_time(r.at_s)}\n" for r in readings)
    path.write_text("entity_id,state,last_changed\n" + "".join(rows))
    return path


def test_the_command_needs_no_platform_and_says_what_the_library_says(
    tmp_path: Path,
) -> None:
    _, readings, description = history()
    boat_file, out = tmp_path / "boat.yaml", tmp_path / "out.json"
    boat_file.write_text(json.dumps(description))  # JSON is YAML
    path = write_history(tmp_path / "history.csv", readings)

    (outcome,), modules = run_many("_replay.py", [[boat_file, path, "--json", out]])

    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out == report_text(report())
    assert json.loads(out.read_text()) == report_to_json(report())
    assert not modules & {"homeassistant", "probatio"}
    assert [entry.name for entry in tmp_path.iterdir() if ".json." in entry.name] == []


def test_bad_input_is_one_line_and_exit_status_2(tmp_path: Path) -> None:
    histories = DATA / "broken" / "histories"
    names = sorted(BROKEN_HISTORIES)
    boat_file = tmp_path / "boat.yaml"
    boat_file.write_text(
        PETREL.read_text().replace(
            "{entity: sensor.inverter_output, unit: kW}", "sensor.inverter_output"
        )
    )
    good = write_history(
        tmp_path / "good.csv", (Reading("sensor.inverter_output", "5", 1778484600.0),)
    )
    lines: list[list[object]] = [[boat_file, histories / name] for name in names]
    lines += [
        [],
        [boat_file],
        [boat_file, good, "--jsn", "out.json"],
        [boat_file, tmp_path / "none.csv"],
        [tmp_path / "none.yaml", good],
        [tmp_path, good],
        [boat_file, good, "--json", tmp_path / "no" / "out.json"],
        [boat_file, good, "--json", tmp_path],
        [boat_file, good, "--json", boat_file],
        [boat_file, good, "--json", good],
    ]

    outcomes, _ = run_many("_replay.py", lines)

    for line, outcome in zip(lines, outcomes, strict=True):
        assert (outcome.status, outcome.out) == (2, ""), line
        assert outcome.err.startswith("replay: ")
        assert len(outcome.err.splitlines()) == 1, outcome.err
    for name, outcome in zip(names, outcomes, strict=False):
        assert f"{name}: " in outcome.err and BROKEN_HISTORIES[name] in outcome.err


def test_progress_is_shown_on_a_terminal_only(tmp_path: Path) -> None:
    boat, readings, description = history()
    assert boat.name
    boat_file = tmp_path / "boat.yaml"
    boat_file.write_text(json.dumps(description))
    path = write_history(tmp_path / "history.csv", readings[:4000])
    command = [sys.executable, str(ROOT / "script" / "_replay.py"), boat_file, path]

    terminal, end = pty.openpty()
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=end, check=True)
    shown = os.read(terminal, 10_000).decode()
    os.close(terminal)
    os.close(end)
    piped = subprocess.run(command, capture_output=True, check=True)

    assert "replay: [" in shown and shown.endswith("\r\033[K")
    assert piped.stderr == b""
    assert piped.stdout == done.stdout


def test_output_that_nobody_reads_is_no_error(tmp_path: Path) -> None:
    _, readings, description = history()
    boat_file = tmp_path / "boat.yaml"
    boat_file.write_text(json.dumps(description))
    path = write_history(tmp_path / "history.csv", readings[:100])
    command = [sys.executable, str(ROOT / "script" / "_replay.py"), boat_file, path]
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(command, stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


def few_readings(folder: Path, name: str = "Petrel") -> list[str]:
    """Write a boat and a minute of its history; return the command that replays it."""
    boat_file = folder / "boat.yaml"
    boat_file.write_text(
        PETREL.read_text().replace("name: Petrel", f"name: {name}"), encoding="utf-8"
    )
    path = write_history(
        folder / "history.csv",
        tuple(
            Reading("sensor.dc_loads", str(90 + n), 1778484600.0 + n) for n in range(60)
        ),
    )
    command = [sys.executable, str(ROOT / "script" / "_replay.py")]
    return [*command, str(boat_file), str(path)]


def test_a_report_goes_into_a_pipe_and_through_a_link(tmp_path: Path) -> None:
    command = few_readings(tmp_path)
    kept, link, pipe = (tmp_path / name for name in ("kept.json", "link", "pipe"))
    link.symlink_to(kept)
    os.mkfifo(pipe)
    end = os.open(pipe, os.O_RDWR)

    for out in (link, pipe):
        subprocess.run([*command, "--json", str(out)], check=True, capture_output=True)
    piped = os.read(end, 100_000).decode()
    os.close(end)

    assert link.is_symlink() and pipe.is_fifo()
    assert piped == kept.read_text()
    assert json.loads(piped)["boat"] == "Petrel"


def test_a_report_is_written_whoever_stops_reading_the_tables(tmp_path: Path) -> None:
    command, out = few_readings(tmp_path), tmp_path / "out.json"
    boat_file = tmp_path / "boat.yaml"
    arrays = ", ".join(f"sensor.array_{n}" for n in range(400))  # Tables of 30 kB.
    boat_file.write_text(
        boat_file.read_text().replace(
            "sensor.array_port, sensor.array_starboard", arrays
        )
    )
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*command, "--json", str(out)],
        stdout=write,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")
    assert len(json.loads(out.read_text())["remarks"]) >= 400


def test_a_full_disk_is_told_in_one_line(tmp_path: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            few_readings(tmp_path), stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 2
    assert done.stderr == b"replay: No space left on device\n"


def test_a_report_may_have_the_longest_name_that_there_is(tmp_path: Path) -> None:
    out = tmp_path / f"{'o' * 250}.json"
    done = subprocess.run(
        [*few_readings(tmp_path), "--json", str(out)], capture_output=True, check=True
    )
    assert done.stderr == b"" and json.loads(out.read_text())["boat"] == "Petrel"


def test_a_report_is_utf_8_whatever_the_terminal_shows(tmp_path: Path) -> None:
    out = tmp_path / "out.json"
    done = subprocess.run(
        [*few_readings(tmp_path, "Möwe 🍳"), "--json", str(out)],
        capture_output=True,
        env={"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        check=True,
    )
    assert done.stderr == b"" and done.stdout.startswith(b"M?we ?, ")
    assert json.loads(out.read_text(encoding="utf-8"))["boat"] == "Möwe 🍳"
