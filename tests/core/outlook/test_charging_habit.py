"""When the crew runs the engine: by need, by the clock, or as it happens."""

import json
from zoneinfo import ZoneInfo

import pytest

from custom_components.galley_loads.core.outlook.charging_habit import (
    ChargingLog,
    ChargingRun,
    charging_habits,
)

UTC = ZoneInfo("UTC")
DAY_S = 86_400.0
NOW_S = 20 * DAY_S


def habits(*runs: ChargingRun):
    return charging_habits(runs, UTC, NOW_S, 0.0)


def run(day: float, hour: float, soc: float, hours: float = 1.5) -> ChargingRun:
    return ChargingRun(day * DAY_S + hour * 3600.0, hours, 900.0, soc)


def test_a_run_of_the_engine_is_filed_with_its_hours_and_the_charge_before():
    log = ChargingLog(7000.0)
    for quarter in range(20):
        running = 4 <= quarter < 10
        log.observe(900.0 * quarter, 900.0 if running else 0.0, 40.0 + quarter)
    assert log.runs == (ChargingRun(3600.0, 1.5, 900.0, 43.0),)
    again = ChargingLog(7000.0)
    again.restore(json.loads(json.dumps(log.snapshot())))
    assert again.runs == log.runs


def test_a_trickle_from_another_source_is_no_engine():
    log = ChargingLog(7000.0)
    for quarter in range(20):
        log.observe(900.0 * quarter, 100.0 if quarter < 9 else 0.0, 50.0)
    assert log.runs == ()


def test_an_engine_started_whenever_the_bank_is_low_is_a_habit_by_need():
    clock, need = habits(
        run(5, 7, 41.0), run(9, 16.5, 39.0), run(13, 21, 40.0), run(17, 11, 38.0)
    )
    assert clock is None
    assert {r.soc for r in need.runs} == {41.0, 39.0, 40.0, 38.0}


def test_an_engine_run_every_second_day_at_noon_is_a_habit_by_the_clock():
    clock, need = habits(*(run(day, 12.2, 50.0 + 3 * day) for day in range(2, 20, 2)))
    assert need is None
    assert clock.hour == pytest.approx(12.2)
    assert clock.per_day == pytest.approx(0.5, abs=0.05)


def test_an_engine_run_at_seven_when_the_bank_is_low_is_a_habit_by_need():
    clock, need = habits(*(run(day, 7.0, 40.0 + day % 3) for day in (3, 8, 12, 17)))
    assert clock is None
    assert need is not None


def test_shore_power_over_night_is_no_engine():
    assert habits(*(run(day, 18.0, 60.0 + 2 * day, 14.0) for day in range(9))) == (
        None,
        None,
    )


def test_two_runs_here_and_there_are_no_habit():
    assert habits(run(3, 9, 80.0), run(11, 15, 50.0)) == (None, None)
