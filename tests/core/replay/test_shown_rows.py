"""What a crew would have seen and heard of a day, written down without hindsight."""

from collections.abc import Sequence
from itertools import pairwise, takewhile
from random import Random

import pytest

from custom_components.galley_loads.core.engine import Engine
from custom_components.galley_loads.core.events import Event
from custom_components.galley_loads.core.live.live_view import LiveView
from custom_components.galley_loads.core.metering.reading import Reading
from custom_components.galley_loads.core.replay.replay import (
    Crew,
    iso_time,
    replay,
    report_to_json,
)
from custom_components.galley_loads.core.replay.shown_rows import (
    BACKGROUND,
    UNRECOGNISED,
    HeardRow,
    HeardTable,
    ShownRow,
    ShownTable,
)
from custom_components.galley_loads.core.replay.turns import TICK_S, Turns
from tests.core.boats import small_boat
from tests.core.simulated_day import history

LOAD = "sensor.inverter_output"
AT_S = 1_778_000_000.0


def morning() -> list[Reading]:
    _, readings, _ = history()
    until_s = readings[0].at_s + 10 * 3600.0
    return list(takewhile(lambda reading: reading.at_s < until_s, readings))


def watched(readings: Sequence[Reading]) -> tuple[list[ShownRow], list[HeardRow]]:
    """Return what was shown and told, and check that the report is what it always is."""
    boat, _, _ = history()
    rows: list[ShownRow] = []
    told: list[HeardRow] = []
    shown, heard = ShownTable(rows.append), HeardTable(boat, told.append)

    def look(at_s: float, view: LiveView) -> None:
        shown.look(at_s, view)
        heard.look(at_s, view)

    report = replay(boat, readings, crew=Crew(look, heard.settle))
    assert report_to_json(report) == report_to_json(replay(boat, readings))
    return rows, told


@pytest.fixture(scope="module")
def seen() -> tuple[list[ShownRow], list[HeardRow]]:
    return watched(morning())


def test_a_row_comes_whenever_what_is_shown_changes_and_only_then(
    seen: tuple[list[ShownRow], list[HeardRow]],
) -> None:
    rows, _ = seen
    last: dict[str, ShownRow] = {}
    for row in rows:
        before = last.get(row.name)
        assert before is None or before[2:] != row[2:]
        last[row.name] = row
    assert {*last} == {"Hob", "Kettle", "Water heater", BACKGROUND, UNRECOGNISED}
    assert [row.at_s for row in rows] == sorted(row.at_s for row in rows)


def test_what_was_shown_knows_nothing_of_what_came_later(
    seen: tuple[list[ShownRow], list[HeardRow]],
) -> None:
    readings = morning()
    until_s = readings[0].at_s + 7 * 3600.0
    fewer, less = watched([r for r in readings if r.at_s <= until_s])
    rows, told = seen
    assert [r for r in fewer if r.at_s < until_s] == [
        r for r in rows if r.at_s < until_s
    ]
    assert [r for r in less if r.at_s < until_s] == [
        r for r in told if r.at_s < until_s
    ]
    assert any(row.running for row in fewer)


def test_a_start_is_heard_while_the_run_goes_on() -> None:
    """A kettle of 2 kW for three minutes, beside a hob that never draws so much."""
    boat = small_boat()
    noise = Random(1)
    kettle_w = [1990.0 if 600 <= second < 780 else 0.0 for second in range(0, 1200, 2)]
    readings = [
        Reading(LOAD, f"{70.0 + w + noise.gauss(0, 2):.0f}", AT_S + 2 * number)
        for number, w in enumerate(kettle_w)
    ]
    rows: list[ShownRow] = []
    told: list[HeardRow] = []
    shown, heard = ShownTable(rows.append), HeardTable(boat, told.append)

    def look(at_s: float, view: LiveView) -> None:
        shown.look(at_s, view)
        heard.look(at_s, view)

    replay(boat, readings, crew=Crew(look, heard.settle))
    starts = [row for row in told if row.kind == "started"]
    assert [row.subject for row in starts] == ["Kettle"]
    start = starts[0]
    assert AT_S + 600.0 < start.at_s < AT_S + 660.0
    assert 0.5 <= (start.certainty or 0.0) <= 1.0
    before = [r for r in rows if r.name == "Kettle" and r.at_s <= start.at_s]
    assert before[-1].running


def test_a_row_is_written_with_a_time_in_utc_and_whole_watts() -> None:
    row = ShownRow(AT_S, "Hob", 1234, running=True)
    assert row.cells() == (iso_time(AT_S), "Hob", "1234", "1")
    unknown = ShownRow(AT_S, BACKGROUND, None, running=False)
    assert unknown.cells() == (iso_time(AT_S), BACKGROUND, "", "0")
    assert HeardRow(AT_S, "meal_finished", "dinner", None).cells()[3] == ""


def test_the_crew_looks_every_ten_seconds_and_at_most_every_two() -> None:
    """The load changes five times a second for a minute, then not at all."""
    engine = Engine(small_boat())
    looks: list[float] = []

    def hear(at_s: float, events: list[Event]) -> None:
        raise AssertionError("nothing is settled within two minutes")

    turns = Turns(engine, lambda at_s, _: looks.append(at_s), hear)
    turns.feed_all(
        Reading(LOAD, str(80 + number % 3), AT_S + 0.2 * number)
        for number in range(300)
    )
    turns.feed_all([Reading(LOAD, "80", AT_S + 120.0)])
    gaps = [after - before for before, after in pairwise(looks)]
    assert max(gaps) <= TICK_S
    first = [at_s for at_s in looks if at_s < AT_S + 50.0]
    ticks = [at_s for at_s in looks if at_s % TICK_S == 0.0]
    assert len(first) <= 50 / 2 + 50 / TICK_S + 2
    assert len(ticks) >= 11
