"""A meter that is lost or lies takes no more away than what it alone knew."""

from dataclasses import replace
import json

import pytest

from custom_components.galley_loads.core.boat.boat import Sensor
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.engine import Engine, run_through
from custom_components.galley_loads.core.events import Event, MealSettled, RunSettled
from custom_components.galley_loads.core.metering.reading import Reading

from .boats import HOB, KETTLE, small_boat
from .engine_rig import AT, readings_of, told

LOAD, PLUG = "sensor.inverter_output", "sensor.kettle_plug"
METERED_KETTLE = replace(KETTLE, power_sensor=Sensor(PLUG))


def test_a_meter_that_drops_out_for_a_moment_makes_no_two_runs_of_one_kettle() -> None:
    rows = [
        ("sensor.ac", 80 + s % 3 + (2000 if 600 <= s < 840 else 0), float(s))
        for s in range(0, 5400, 5)
        if not 700 <= s < 720
    ]
    readings = readings_of(*rows)
    readings.append(Reading("sensor.ac", "unavailable", AT + 700))
    readings.sort(key=lambda reading: reading.at_s)
    engine = Engine(
        parse_boat(
            {
                "name": "Petrel",
                "latitude": 38.53,
                "longitude": -28.62,
                "time_zone": "UTC",
                "sensors": {"ac_load_power": "sensor.ac"},
                "bank": {
                    "capacity_ah": 420,
                    "nominal_voltage": 12.8,
                    "reserve_soc": 30,
                },
                "appliances": [
                    {"name": "Kettle", "kind": "kettle", "rated_power": 2000}
                ],
            }
        )
    )
    (run,) = [e.run for e in run_through(engine, readings) if isinstance(e, RunSettled)]
    assert (run.start_s - AT, run.end_s - AT) == (600, 840)
    assert run.energy_wh == pytest.approx(2000 * 220 / 3600, rel=0.01)
    assert engine.totals.unmeasured_s == pytest.approx(20)


@pytest.mark.parametrize(("hole_s", "runs"), [(120, 1), (130, 2)])
def test_two_minutes_without_a_meter_are_bridged_and_more_is_a_gap(
    hole_s: int, runs: int
) -> None:
    rows: list[tuple[str, float, float]] = [
        (LOAD, 80 + s % 3 + (2000 if 600 <= s < 1000 else 0), float(s))
        for s in range(0, 5400, 5)
        if not 700 <= s < 700 + hole_s
    ]
    lost = Reading(LOAD, "unavailable", AT + 700)
    readings = sorted([*readings_of(*rows), lost], key=lambda reading: reading.at_s)
    events = run_through(Engine(small_boat(appliances=(KETTLE,))), readings)
    energies = [e.run.energy_wh for e in events if isinstance(e, RunSettled)]
    assert len(energies) == runs
    assert sum(energies) == pytest.approx(2000 * (400 - hole_s) / 3600, rel=0.05)


def _dead_meter_beside_a_plug() -> list[Reading]:
    """Return an hour and a half with a kettle of 2000 W, its boat's meter dead from 500 s.

    The meter comes back at 3600 s.
    """
    rows: list[tuple[str, float, float]] = []
    for s in range(0, 5400, 5):
        kettle_w = 2000 if 600 <= s < 840 else 0
        rows.append((PLUG, kettle_w + s % 3 / 10, float(s)))
        if not 500 <= s < 3600:
            rows.append((LOAD, 80 + s % 3 + kettle_w, float(s)))
    lost = Reading(LOAD, "unavailable", AT + 500)
    return sorted([*readings_of(*rows), lost], key=lambda reading: reading.at_s)


def test_a_kettle_with_its_own_meter_is_counted_though_the_boats_meter_is_dead() -> (
    None
):
    boat, readings = (
        small_boat(appliances=(METERED_KETTLE,)),
        _dead_meter_beside_a_plug(),
    )
    engine = Engine(boat)
    settled = told(run_through(engine, readings))
    (run,) = [e.run for e in settled if isinstance(e, RunSettled)]
    (meal,) = [e.meal for e in settled if isinstance(e, MealSettled)]
    # 2000 W for 240 s.
    assert run.energy_wh == meal.energy_wh == pytest.approx(133.33, rel=0.001)
    assert engine.totals.appliance_wh["Kettle"] == pytest.approx(run.energy_wh)
    assert engine.totals.unmeasured_s == pytest.approx(3100)
    # A restart within the run changes nothing, nor does looking.
    again, events = Engine(boat), list[Event]()
    for number, reading in enumerate(readings):
        events += again.feed(reading)
        if number % 37 == 0:
            again.live()
            state = json.loads(json.dumps(again.snapshot()))
            again = Engine.from_state(boat, state)
    assert told([*events, *again.finish()]) == settled
    assert again.totals == engine.totals


def test_a_kettle_with_its_own_meter_is_shown_though_the_boats_meter_is_dead() -> None:
    engine = Engine(small_boat(appliances=(METERED_KETTLE,)))
    for reading in _dead_meter_beside_a_plug():
        if reading.at_s > AT + 700:
            break
        engine.feed(reading)
    view = engine.live()
    assert view is not None
    assert view.load_w is None
    now = view.appliance("Kettle")
    assert now.power_w == pytest.approx(2000, abs=1)
    assert now.run_energy_wh == pytest.approx(2000 * 100 / 3600, rel=0.02)


def test_behind_a_load_meter_mounted_backwards_nobody_has_run() -> None:
    """What it tells below zero counts as nothing, whatever a kettle's own meter says."""
    rows: list[tuple[str, float, float]] = []
    for s in range(0, 5400, 5):
        kettle_w = 2000 if 600 <= s < 840 else 0
        rows += [(PLUG, kettle_w, float(s)), (LOAD, -80 - s % 3 - kettle_w, float(s))]
    engine = Engine(small_boat(appliances=(HOB, METERED_KETTLE)))
    assert told(run_through(engine, readings_of(*rows))) == []
    assert engine.totals.load_wh == 0
    assert engine.totals.appliance_wh["Kettle"] == 0


def test_an_own_meter_goes_on_counting_while_the_boats_meter_is_dead() -> None:
    """What it told half an hour ago is counted, and looking stays cheap for hours."""
    engine = Engine(small_boat(appliances=(METERED_KETTLE,)))
    rows = [(LOAD, 80 + s % 3, float(s)) for s in range(0, 500, 5)]
    for s in range(0, 6 * 3600, 10):
        boils = 3000 <= s % 3600 < 3300
        rows.append((PLUG, (2000 if boils else 0) + s % 3 / 10, float(s)))
    lost = Reading(LOAD, "unavailable", AT + 500)
    for reading in sorted(
        [*readings_of(*rows), lost], key=lambda reading: reading.at_s
    ):
        engine.feed(reading)
    # Five boils of 2000 W for 300 s are over for half an hour, the sixth just is.
    assert engine.totals.appliance_wh["Kettle"] == pytest.approx(5 * 166.7, rel=0.001)
    tentative = engine.inference.tentative()
    assert len(tentative) < 400
    engine.finish()
    assert engine.totals.appliance_wh["Kettle"] == pytest.approx(6 * 166.7, rel=0.001)
