"""Histories as they come: ordered or not, long, packed, broken."""

from collections.abc import Sequence
import gzip
import os
from pathlib import Path
import random
import tracemalloc

from hypothesis import HealthCheck, given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.replay.history_file import (
    HistoryError,
    read_history,
)
from tests.core.plain_python import DATA
from tests.said import refused, said

from .broken_histories import BROKEN_HISTORIES

HEADER = "entity_id,state,last_changed"
BOTH = ("sensor.ac", "sensor.soc")
START_S = 1778484600.0  # 2026-05-11T07:30:00Z


def write(path: Path, rows: Sequence[str], header: str = HEADER) -> Path:
    """Write a history, packed if its name says so."""
    content = "\n".join([header, *rows, ""]).encode()
    path.write_bytes(gzip.compress(content) if path.suffix == ".gz" else content)
    return path


def row(entity_id: str, state: object, second: float) -> str:
    minute, second = divmod(second, 60)
    return f"{entity_id},{state},2026-05-11T07:{30 + minute:02.0f}:{second:06.3f}Z"


def test_every_broken_history_is_looked_at() -> None:
    files = {path.name for path in (DATA / "broken" / "histories").iterdir()}
    assert files == set(BROKEN_HISTORIES)


@pytest.mark.parametrize("name", sorted(BROKEN_HISTORIES))
def test_a_broken_history_gets_one_line_that_says_where(name: str) -> None:
    path = DATA / "broken" / "histories" / name
    with pytest.raises(HistoryError) as caught:
        list(read_history(path, ["sensor.inverter_output"]))

    assert BROKEN_HISTORIES[name] in said(caught.value)
    assert len(said(caught.value).splitlines()) == 1


@pytest.mark.parametrize("name", ["history.csv", "history.csv.gz"])
def test_readings_come_as_they_stand_in_the_file(tmp_path: Path, name: str) -> None:
    path = write(
        tmp_path / name,
        [row("sensor.ac", 120, 0), row("sensor.soc", "unavailable", 2.5)],
    )
    assert list(read_history(path, BOTH)) == [
        Reading("sensor.ac", "120", START_S),
        Reading("sensor.soc", "unavailable", START_S + 2.5),
    ]


@pytest.mark.parametrize(
    "written",
    [
        "2026-05-11T07:30:00Z",
        "2026-05-11T07:30:00.000000+00:00",
        "2026-05-11 05:30:00-02:00",
        "2026-05-11T09:30+02:00",
        "2026-05-11t07:30:00z",
    ],
)
def test_a_time_may_have_any_offset(tmp_path: Path, written: str) -> None:
    path = write(tmp_path / "history.csv", [f"sensor.ac,120,{written}"])
    assert list(read_history(path, BOTH)) == [Reading("sensor.ac", "120", START_S)]


def test_columns_may_stand_in_any_order_among_others(tmp_path: Path) -> None:
    path = write(
        tmp_path / "history.csv",
        ["2026-05-11T07:30:00Z,x,120,sensor.ac,y", ""],
        header="\ufefflast_changed,note, state,entity_id,attributes",
    )
    assert list(read_history(path, BOTH)) == [Reading("sensor.ac", "120", START_S)]


@pytest.mark.parametrize("quote", ["", '"'])
def test_blanks_and_blank_lines_count_for_nothing(tmp_path: Path, quote: str) -> None:
    rows = [HEADER, row("sensor.ac", 120, 0), row("sensor.soc", "unavailable", 2)]
    spaced = [
        ", ".join(f"{quote}{cell}{quote}" for cell in one.split(",")) + " "
        for one in rows
    ]
    path = write(tmp_path / "history.csv", ["  ", *spaced, ",,", " "], header="")
    assert list(read_history(path, BOTH)) == [
        Reading("sensor.ac", "120", START_S),
        Reading("sensor.soc", "unavailable", START_S + 2),
    ]


def test_blank_lines_alone_are_an_empty_history(tmp_path: Path) -> None:
    path = write(tmp_path / "history.csv", [" ", ""], header="")
    with refused(HistoryError, match="^empty; needed are the columns"):
        list(read_history(path, BOTH))


def test_a_pipe_is_refused_since_it_cannot_be_read_twice(tmp_path: Path) -> None:
    pipe = tmp_path / "history.csv"
    os.mkfifo(pipe)
    with refused(HistoryError, match="^not a plain file; a history is read twice"):
        list(read_history(pipe, BOTH))


def test_sensors_of_others_are_left_out_whatever_their_times(tmp_path: Path) -> None:
    rows = [row("sensor.ac", 1, 5), "sensor.clock,1,noon", row("sensor.ac", 2, 6)]
    path = write(tmp_path / "history.csv", rows)
    assert [r.state for r in read_history(path, BOTH)] == ["1", "2"]


def test_an_export_entity_after_entity_comes_in_order_of_time(tmp_path: Path) -> None:
    rows = [row("sensor.ac", n, n) for n in range(0, 60, 2)]
    rows += [row("sensor.soc", n, n) for n in range(1, 60, 2)]
    path = write(tmp_path / "history.csv.gz", rows)
    assert [int(r.state) for r in read_history(path, BOTH)] == list(range(60))


@given(st.lists(st.tuples(st.sampled_from(BOTH), st.integers(0, 20)), min_size=1))
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_sorting_is_stable_and_keeps_doubled_rows(
    tmp_path: Path, seconds: list[tuple[str, int]]
) -> None:
    rows = [row(entity, n, second) for n, (entity, second) in enumerate(seconds)]
    path = write(tmp_path / "history.csv", [*rows, rows[-1]])
    numbered = [(s, n, entity) for n, (entity, s) in enumerate(seconds)]
    last_s, last, entity = numbered[-1]

    expected = [
        Reading(entity, str(n), START_S + second)
        for second, n, entity in sorted([*numbered, (last_s, last, entity)])
    ]
    assert list(read_history(path, BOTH)) == expected


def test_memory_stays_bounded_ordered_or_not(tmp_path: Path) -> None:
    count = 30_000
    seconds = [n * 0.04 for n in range(count)]
    ordered = [row("sensor.ac", n, second) for n, second in enumerate(seconds)]
    shuffled = random.Random(1).sample(ordered, count)
    for name, rows in (("ordered", ordered), ("shuffled", shuffled)):
        path = write(tmp_path / f"{name}.csv", rows)
        tracemalloc.start()
        assert sum(1 for _ in read_history(path, BOTH)) == count
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        # All rows as readings would take over 5 MB.
        assert peak < 2_500_000, name


@pytest.mark.parametrize("reverse", [False, True])
def test_progress_rises_to_the_whole(tmp_path: Path, reverse: bool) -> None:
    rows = [row("sensor.ac", n, n * 0.1) for n in range(9000)]
    path = write(tmp_path / "history.csv", rows[::-1] if reverse else rows)
    steps: list[tuple[int, int]] = []

    for _ in read_history(path, BOTH, lambda *step: steps.append(step)):
        pass

    assert len(steps) > 4
    assert [done for done, _ in steps] == sorted(done for done, _ in steps)
    assert {total for _, total in steps} == {2 * path.stat().st_size}
    assert steps[-1][0] == steps[-1][1]


def test_a_packed_file_with_nothing_in_it_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "history.csv.gz"
    path.write_bytes(gzip.compress(b""))
    with refused(HistoryError, match="^empty; needed are the columns"):
        list(read_history(path, BOTH))


def test_a_file_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        list(read_history(tmp_path / "none.csv", BOTH))
