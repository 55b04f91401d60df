"""`script/replay`: bad input, pipes, full disks, and what it says to whom."""

import json
import os
from pathlib import Path
import pty
import subprocess
import sys

from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.language.report_tables import (
    report_in_json,
    report_text,
)
from tests.core.plain_python import DATA, ROOT, run_many
from tests.core.replay.broken_histories import BROKEN_HISTORIES
from tests.core.simulated_day import history, report, write_history

PETREL = DATA / "boats" / "petrel.yaml"
REPLAY = (sys.executable, str(ROOT / "script" / "_replay.py"))


def day_on_file(folder: Path, count: int | None = None) -> tuple[Path, Path]:
    """Write the simulated day, or its first readings; return its boat and its history."""
    _, readings, description = history()
    boat_file = folder / "boat.yaml"
    boat_file.write_text(json.dumps(description))  # JSON is YAML
    return boat_file, write_history(folder / "history.csv", readings[:count])


def unread(command: list[str | Path]) -> subprocess.CompletedProcess[bytes]:
    """Run a command of whose output nobody reads a word."""
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(command, stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    return done


def test_the_command_needs_no_platform_and_says_what_the_library_says(
    tmp_path: Path,
) -> None:
    boat_file, path = day_on_file(tmp_path)
    out = tmp_path / "out.json"

    (outcome,), modules = run_many("_replay.py", [[boat_file, path, "--json", out]])

    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out == report_text(report())
    assert json.loads(out.read_text()) == report_in_json(report())
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
        [boat_file, good, "--live", tmp_path / "no" / "live.csv"],
        [boat_file, good, "--news", good],
    ]

    outcomes, _ = run_many("_replay.py", lines)

    for line, outcome in zip(lines, outcomes, strict=True):
        assert (outcome.status, outcome.out) == (2, ""), line
        assert outcome.err.startswith("replay: ")
        assert len(outcome.err.splitlines()) == 1, outcome.err
    for name, outcome in zip(names, outcomes, strict=False):
        assert f"{name}: " in outcome.err and BROKEN_HISTORIES[name] in outcome.err


def test_progress_is_shown_on_a_terminal_only(tmp_path: Path) -> None:
    command = [*REPLAY, *day_on_file(tmp_path, 4000)]

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
    done = unread([*REPLAY, *day_on_file(tmp_path, 100)])
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
    return [*REPLAY, str(boat_file), str(path)]


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
    done = unread([*command, "--json", str(out)])
    assert (done.returncode, done.stderr) == (0, b"")
    assert len(json.loads(out.read_text())["remarks"]) >= 400


def test_what_was_shown_and_told_is_written_beside_the_report(tmp_path: Path) -> None:
    live, news = tmp_path / "live.csv", tmp_path / "news.csv"
    options = ("--live", str(live), "--news", str(news))
    done = subprocess.run(
        [*few_readings(tmp_path), *options], capture_output=True, check=True
    )
    assert done.stderr == b""
    header, *rows = live.read_text().splitlines()
    assert header == "time,name,power_w,running"
    assert any(row.split(",")[1] == "background" for row in rows)
    assert news.read_text() == "time,kind,subject,certainty\n"


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
