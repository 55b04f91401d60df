"""What must hold for any readings, on a boat with a load meter and on one without."""

from copy import replace
import json
from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.reading import Reading

from .load_rig import START_S, bench

SENSORS: dict[str, dict[str, Any]] = {
    "metered": {
        "ac_load_power": "sensor.ac",
        "dc_load_power": "sensor.dc",
        "solar_power": ["sensor.sun_1", "sensor.sun_2"],
        "battery_power": "sensor.bank",
        "battery_voltage": "sensor.volts",
        "battery_soc": "sensor.soc",
    },
    "by_power": {
        "solar_power": ["sensor.sun_1", "sensor.sun_2"],
        "other_charging_power": "sensor.shore",
        "battery_power": "sensor.bank",
        "battery_current": "sensor.amps",
        "battery_voltage": "sensor.volts",
        "battery_soc": "sensor.soc",
        "battery_temperature": "sensor.warmth",
    },
    "by_current": {
        "solar_power": "sensor.sun_1",
        "battery_current": "sensor.amps",
        "battery_voltage": "sensor.volts",
    },
}
PARTS: dict[str, Any] = {
    "appliances": [
        {
            "name": "Slow pot",
            "kind": "slow_cooker",
            "rated_power": 160,
            "supply": "dc",
            "power_sensor": "sensor.pot",
        }
    ],
    "circuits": [
        {
            "name": "Galley 1",
            "breaker_current": 16,
            "voltage": 230,
            "relay": "switch.relay",
        }
    ],
}
ENTITIES = [
    "switch.relay",
    "sensor.pot",
    "sensor.of_others",
    *(
        f"sensor.{name}"
        for name in (
            "ac dc sun_1 sun_2 shore bank amps volts soc warmth".split()  # noqa: SIM905
        )
    ),
]
STATES = st.one_of(
    st.integers(-20, 20).map(lambda n: str(n * 100)),
    st.sampled_from(["0", "3", "13.2", "13.25", "unavailable", "unknown", "off", "on"]),
)
# Mostly seconds apart, sometimes hours, sometimes at one moment or out of order.
PAUSES_S = st.one_of(
    st.floats(0, 6),
    st.sampled_from([0.0, 0.5, 1.0, 290.0, 400.0, 9000.0, 90000.0, -3.0]),
)


@st.composite
def histories(draw: st.DrawFn) -> list[Reading]:
    at_s, readings = START_S, list[Reading]()
    for _ in range(draw(st.integers(1, 40))):
        at_s += draw(PAUSES_S)
        readings.append(
            Reading(draw(st.sampled_from(ENTITIES)), draw(STATES), round(at_s, 3))
        )
    return readings


def rig(sensors: str) -> LoadAssembler:
    return bench(SENSORS[sensors], **PARTS)


def fed(assembler: LoadAssembler, readings: list[Reading]) -> list[LoadSample]:
    return [sample for reading in readings for sample in assembler.feed(reading)]


@pytest.mark.parametrize("sensors", SENSORS)
@given(
    readings=histories(),
    cuts=st.lists(st.integers(0, 40), max_size=4),
    looks=st.lists(st.floats(0, 1), max_size=40),
)
@settings(max_examples=100, deadline=None)
def test_chunks_restarts_and_looks_change_no_sample(
    sensors: str, readings: list[Reading], cuts: list[int], looks: list[float]
) -> None:
    # Those of others never reach the assembler, and their time is not its time.
    whole = rig(sensors)
    readings = [r for r in readings if r.entity_id in whole.entity_ids]
    expected = [*fed(whole, readings), *whole.finish()]

    assembler, samples, clock_s = rig(sensors), list[LoadSample](), START_S
    for index, reading in enumerate(readings):
        if index in cuts:
            state = json.loads(json.dumps(assembler.snapshot()))
            assembler = rig(sensors)
            assembler.restore(state)
        if index < len(looks) and reading.at_s > clock_s:
            # Somebody looks between two readings.
            between_s = clock_s + looks[index] * (reading.at_s - clock_s)
            samples += assembler.advance(between_s)
        samples += assembler.feed(reading)
        clock_s = max(clock_s, reading.at_s)
    samples += assembler.finish()

    assert samples == expected
    assert assembler.snapshot() == whole.snapshot()


@pytest.mark.parametrize("sensors", SENSORS)
@given(readings=histories(), cut=st.integers(0, 40))
@settings(max_examples=100, deadline=None)
def test_it_matters_not_how_many_readings_come_at_a_time(
    sensors: str, readings: list[Reading], cut: int
) -> None:
    one_by_one, at_once = rig(sensors), rig(sensors)
    expected = fed(one_by_one, readings)
    samples = at_once.feed_all(readings[:cut]) + at_once.feed_all(readings[cut:])
    assert samples == expected
    assert at_once.snapshot() == one_by_one.snapshot()


@pytest.mark.parametrize("sensors", SENSORS)
@given(readings=histories())
@settings(max_examples=80, deadline=None)
def test_time_never_goes_back_and_no_load_is_negative(
    sensors: str, readings: list[Reading]
) -> None:
    assembler = rig(sensors)
    samples = fed(assembler, readings)
    samples += assembler.advance(START_S + 1e6)
    times_s = [sample.at_s for sample in samples]
    assert times_s == sorted(times_s)
    assert all(sample.load_w is None or sample.load_w >= 0 for sample in samples)
    assert assembler.held_since_s is None


@pytest.mark.parametrize("sensors", SENSORS)
@given(readings=histories())
@settings(max_examples=60, deadline=None)
def test_doubled_readings_and_those_of_others_change_nothing(
    sensors: str, readings: list[Reading]
) -> None:
    once, twice = rig(sensors), rig(sensors)
    ordered = sorted(readings, key=lambda reading: reading.at_s)
    crowd = [
        copy
        for reading in ordered
        for copy in (reading, reading, replace(reading, entity_id="sensor.of_others"))
    ]
    assert fed(twice, crowd) == fed(once, ordered)
