"""A meter that counts backwards is noticed, and one that is only off by a little is not."""

import json
from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.meter_direction import Direction
from custom_components.galley_loads.core.metering.wrong_sign import Turned
from tests.core.metering.load_rig import AC_METER, SUN_AND_BANK, Row, bench, play
from tests.said import said

from .signs.sailed import voyage

PLUG = {
    "appliances": [
        {
            "name": "Kettle",
            "kind": "kettle",
            "rated_power": 1500,
            "power_sensor": "sensor.plug",
        }
    ]
}


def boiled(name: str, times: int, power_w: float, rest_w: float = 0.0) -> list[Row]:
    """Something is switched on for five minutes in every hour."""
    rows: list[Row] = []
    for hour in range(times):
        rows += [(name, rest_w, 3600.0 * hour), (name, power_w, 3600.0 * hour + 300.0)]
    return rows


def turned(assembler: LoadAssembler) -> list[str]:
    return [entity for sign in assembler.turned_meters for entity in sign.entity_ids]


@pytest.mark.parametrize(
    ("name", "sensors", "parts"),
    [
        ("ac", AC_METER, {}),
        ("dc", {"dc_load_power": "sensor.dc"}, {}),
        ("sun", SUN_AND_BANK, {}),
        ("sun", {**AC_METER, **SUN_AND_BANK}, {}),
        ("plug", AC_METER, PLUG),
    ],
)
def test_a_meter_that_tells_every_draw_below_zero_counts_backwards(
    name: str, sensors: dict[str, Any], parts: dict[str, Any]
) -> None:
    assembler = bench(sensors, **parts)
    play(assembler, boiled(name, 7, -1500.0, -30.0))
    (sign,) = assembler.turned_meters
    assert sign.turned is Turned.METER
    assert sign.entity_ids == (f"sensor.{name}",)
    assert said(sign.called[0]).endswith(f" (sensor.{name})")
    assert said(sign.evidence[0]) == (
        "7 of 7 times that much flowed, it told a power below zero, down to -1,500 W."
    )
    upright = bench(sensors, **parts)
    play(upright, boiled(name, 7, 1500.0, -30.0))
    assert not turned(upright)


def test_a_meter_that_also_counts_what_comes_back_is_not_turned() -> None:
    """Panels on the AC side give more by day than is drawn, and at night nothing."""
    rows: list[Row] = []
    for hour in range(30):
        power_w = -800.0 if hour % 2 else 900.0
        rows += [("ac", 0.0, 3600.0 * hour), ("ac", power_w, 3600.0 * hour + 300.0)]
    assembler = bench(AC_METER)
    play(assembler, rows)
    assert not turned(assembler)


def test_a_charger_that_may_be_an_inverter_too_is_left_alone() -> None:
    assembler = bench({**SUN_AND_BANK, "other_charging_power": "sensor.combi"})
    play(assembler, boiled("combi", 20, -900.0))
    assert not turned(assembler)


def test_a_base_load_of_its_own_hides_no_kettle() -> None:
    assembler = bench(AC_METER)
    play(assembler, boiled("ac", 7, -1700.0, -200.0))
    assert turned(assembler) == ["sensor.ac"]


def test_a_meter_that_was_turned_round_is_forgiven() -> None:
    assembler = bench(AC_METER)
    play(assembler, boiled("ac", 20, -1500.0))
    assert turned(assembler)
    later = [
        (name, state, at_s + 72000.0) for name, state, at_s in boiled("ac", 6, 1500.0)
    ]
    play(assembler, later)
    assert not turned(assembler)


def test_a_meter_read_with_the_other_sign_counts_forwards() -> None:
    sensors = {"ac_load_power": {"entity": "sensor.ac", "reversed": True}}
    assembler = bench(sensors)
    samples = play(assembler, boiled("ac", 7, -1500.0))
    assert not turned(assembler)
    assert samples[-1].load_w == 1500.0


@settings(deadline=None)
@given(st.lists(st.floats(-3000, 3000), max_size=60), st.integers(0, 60))
def test_a_restart_changes_nothing(values_w: list[float], stop: int) -> None:
    whole, parted = Direction(), Direction()
    for index, value_w in enumerate(values_w):
        whole.see(value_w)
        parted.see(value_w)
        if index == stop:
            row = json.loads(json.dumps(parted.snapshot()))
            parted = Direction()
            parted.restore(row)
    assert parted == whole


@given(st.lists(st.floats(-3000, 3000) | st.integers(-200, 200), max_size=60))
def test_what_lies_within_the_bounds_need_not_be_seen(values_w: list[float]) -> None:
    whole, spared = Direction(), Direction()
    for value_w in values_w:
        whole.see(value_w)
        if not spared.least_w <= value_w <= spared.most_w:
            spared.see(value_w)
    assert spared == whole


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_meter_of_a_simulated_boat_counts_backwards_until_it_is_turned(
    seed: int,
) -> None:
    options = {"metered": ("kettle",), "dc_load_meter": True, "unnamed_per_day": 2.0}
    sailed = voyage(seed, **options)
    assembler, backwards = sailed.assembler(), sailed.assembler()
    meter = sailed.description["sensors"]["ac_load_power"]
    assembler.feed_all(sailed.rows)
    assert not assembler.turned_meters
    backwards.feed_all(
        (name, str(-float(state)) if name == meter else state, at_s)
        for name, state, at_s in sailed.rows
    )
    assert turned(backwards) == [meter]
