"""A bank whose sign is set the wrong way round is noticed, and no other."""

import json
from typing import Any

from hypothesis import HealthCheck, given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Boat
from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.signs.bank_sign import BankSign
from custom_components.galley_loads.core.metering.wrong_sign import Turned
from tests.said import all_said

from .sailed import still, voyage

SLOW = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)

SENSORS_LESS = st.sampled_from(
    [
        (),
        ("battery_voltage",),
        ("battery_soc",),
        # An alternator that nobody listed charges out of nothing.
        ("other_charging_power",),
        ("battery_voltage", "battery_soc"),
        ("battery_voltage", "battery_soc", "other_charging_power"),
        ("battery_soc", "solar_power", "other_charging_power"),
    ]
)

SORTS = st.sampled_from(
    [
        {},
        {"dc_only": True},
        {"appliances": 2, "supply_period_s": 60.0},
        {"appliances": 1, "period_s": 30.0, "dropouts_per_day": 6.0},
        {"fridge_on_ac": True, "unnamed_per_day": 4.0, "dc_load_meter": True},
        # A night without dark, and days that hardly get light.
        {"latitude": 67.0, "longitude": 14.0, "start": "2026-06-18T00:00:00+02:00"},
        {"latitude": 57.0, "longitude": -7.0, "start": "2026-12-18T00:00:00+00:00"},
    ]
)


@SLOW
@given(seed=st.integers(1, 10_000), sort=SORTS, less=SENSORS_LESS)
def test_a_right_sign_is_never_called_wrong_and_a_wrong_one_within_two_days(
    seed: int, sort: dict[str, Any], less: tuple[str, ...]
) -> None:
    sailed = voyage(seed, **sort).without(*less)
    if sailed is None:
        return
    assert not any(sailed.raised())
    assert any(sailed.set_wrong().raised())


def test_once_the_sensor_is_mended_the_notice_goes_and_stays_away() -> None:
    raised = voyage(3, days=4.0).turned(0.0, 2.0).raised()
    assert raised[47]
    assert not any(raised[-24:])


def test_a_sensor_that_is_turned_one_day_is_noticed_too() -> None:
    raised = voyage(5, days=6.0).turned(2.0, 6.0).raised()
    assert not any(raised[:48])
    assert raised[-1]


def test_the_evidence_says_what_was_seen() -> None:
    sailed = voyage(1).set_wrong()
    sign = BankSign(parse_boat(sailed.description))
    for samples in sailed.hours():
        sign.observe_all(samples)
    (found,) = sign.found()
    bank = sailed.description["sensors"]
    assert found.turned is Turned.BANK
    assert found.entity_ids == (bank.get("battery_power") or bank["battery_current"],)
    evidence = " ".join(all_said(found.evidence))
    assert "the sun gave nothing and no charger ran" in evidence
    assert "When a load was switched on" in evidence
    assert "(20 of 20 times)" in evidence
    assert "its state of charge fell" in evidence


@SLOW
@given(
    sizes=st.lists(st.integers(1, 900), min_size=1, max_size=6),
    stops=st.sets(st.integers(0, 47), max_size=3),
    wrong=st.booleans(),
)
def test_neither_chunks_nor_restarts_change_what_is_found(
    sizes: list[int], stops: set[int], wrong: bool
) -> None:
    sailed = voyage(2, appliances=3)
    sailed = sailed.set_wrong() if wrong else sailed
    boat = parse_boat(sailed.description)
    whole, parted = BankSign(boat), BankSign(boat)
    for hour, samples in enumerate(sailed.hours()):
        whole.observe_all(samples)
        size = sizes[hour % len(sizes)]
        for start in range(0, len(samples), size):
            parted.observe_all(samples[start : start + size])
        if hour in stops:
            saved = json.loads(json.dumps(parted.snapshot()))
            parted = BankSign(boat)
            parted.restore(saved)
    assert parted.snapshot() == whole.snapshot()
    assert parted.found() == whole.found()
    assert bool(whole.found()) is wrong


# Boats that no simulation has


def bare_boat(**sensors: str) -> Boat:
    """Return a boat with an inverter that gives 0.9 of what it takes."""
    return parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "Atlantic/Azores",
            "sensors": {"battery_power": "sensor.bank", **sensors},
            "bank": {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 30},
            "inverter": {"continuous_power": 2500, "efficiency": 0.9},
            "solar": {"array_power": 500},
        }
    )


def found(boat: Boat, samples: list[LoadSample]) -> bool:
    sign = BankSign(boat)
    sign.observe_all(samples)
    return bool(sign.found())


def is_on(at_s: float) -> bool:
    """Something that runs for a third of every half hour."""
    return at_s % 1800.0 >= 1200.0


DAY = [10.0 * n for n in range(8640)]


@pytest.mark.parametrize(
    ("bank_w", "wrong"),
    [
        # A charger gives the bank less than it takes at the plug.
        (lambda at_s: 520.0 if is_on(at_s) else 0.0, False),
        # An inverter takes from the bank more than it gives.
        (lambda at_s: 660.0 if is_on(at_s) else 0.0, True),
        (lambda at_s: -660.0 if is_on(at_s) else 0.0, False),
        # Shore power passes through, and the bank knows nothing of it.
        (lambda at_s: 0.0, False),
    ],
)
def test_a_shore_charger_on_the_load_meter_is_no_load_of_a_turned_bank(
    bank_w: Any, wrong: bool
) -> None:
    boat = bare_boat(ac_load_power="sensor.ac")
    samples = still(
        DAY,
        lambda at_s: {
            "load_w": 600.0 if is_on(at_s) else 0.0,
            "battery_w": bank_w(at_s),
        },
    )
    assert found(boat, samples) is wrong


@pytest.mark.parametrize("soc", [99.0, None])
def test_a_full_bank_whose_sun_follows_the_load_proves_nothing(
    soc: float | None,
) -> None:
    """Of a load of 600 W the held-back sun carries half: both rise, the bank falls."""
    boat = bare_boat(solar_power="sensor.sun")
    samples = still(
        DAY,
        lambda at_s: {
            "solar_w": 400.0 if is_on(at_s) else 100.0,
            "battery_w": -300.0 if is_on(at_s) else 0.0,
            "soc": soc,
            "voltage_v": 14.1 if soc is None else None,
        },
    )
    assert not found(boat, samples)


def test_a_charger_that_is_not_listed_and_never_stops_is_no_wrong_sign() -> None:
    """Plugged in for a week: it floats at night, and what is switched on it carries."""
    boat = bare_boat(solar_power="sensor.sun")
    samples = still(
        [10.0 * n for n in range(7 * 8640)],
        lambda at_s: {"solar_w": 0.0, "battery_w": 700.0 if at_s < 14400.0 else 25.0},
    )
    assert not found(boat, samples)


def test_what_is_said_across_hours_of_silence_is_no_step() -> None:
    boat = bare_boat(ac_load_power="sensor.ac")
    moments = [hour * 3600.0 + second for hour in range(48) for second in range(60)]
    samples = still(
        moments,
        lambda at_s: {
            "load_w": 900.0 * (at_s // 3600.0 % 2),
            "battery_w": 1000.0 * (at_s // 3600.0 % 2),
        },
    )
    assert not found(boat, samples)


def test_a_boat_that_does_not_measure_her_bank_has_no_sign() -> None:
    boat = parse_boat(
        {
            "name": "Petrel",
            "latitude": 38.53,
            "longitude": -28.62,
            "time_zone": "Atlantic/Azores",
            "sensors": {"ac_load_power": "sensor.ac"},
            "bank": {"capacity_ah": 400, "nominal_voltage": 12.8, "reserve_soc": 30},
        }
    )
    samples = still(DAY, lambda at_s: {"load_w": 900.0 if is_on(at_s) else 0.0})
    assert not found(boat, samples)
