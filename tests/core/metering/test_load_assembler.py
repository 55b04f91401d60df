"""The load is what the meters say: in their units, with their signs, while they speak."""

import pytest

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.inference.model.activity import (
    Activity,
    Phase,
    Segment,
)
from custom_components.galley_loads.core.ledger.account import Flow, account
from custom_components.galley_loads.core.ledger.cells import Cells
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.source import entity_ids_of
from tests.said import said

from .load_rig import AC_METER, START_S, Row, bench, load_at, loads, play, reading

RATED = {"kind": "other", "rated_power": 1000}


def accounted(
    assembler: LoadAssembler, samples: list[LoadSample], end_s: float
) -> Flow:
    """Return the account of all that was measured, as one run of a hob."""
    cells = Cells()
    for sample in samples:
        cells.add(sample)
    segment = Segment(
        START_S,
        START_S + end_s,
        (Activity("Hob", START_S, 9000.0, Phase.HEATING, 1.0),),
    )
    boat = assembler.boat
    return account(boat, segment, cells.take_until(segment.end_s), lambda _: None)


def test_an_ac_meter_is_taken_at_its_word() -> None:
    samples = play(bench(AC_METER), [("ac", 120, 0), ("ac", 1920, 2), ("ac", 1920, 4)])
    assert loads(samples) == [(0, 120), (2, 1920)]


def test_kilowatts_and_watts_give_the_same_load() -> None:
    kilo = bench({"ac_load_power": {"entity": "sensor.ac", "unit": "kW"}})
    assert loads(play(kilo, [("ac", 1.92, 0)])) == [(0, 1920)]


def test_a_meter_that_shows_a_little_less_than_nothing_shows_nothing() -> None:
    assert loads(play(bench(AC_METER), [("ac", -3, 0)])) == [(0, 0)]


@pytest.mark.parametrize(("positive", "sign"), [("charging", 1), ("discharging", -1)])
def test_charging_is_positive_whatever_the_sensor_calls_it(
    positive: str, sign: int
) -> None:
    assembler = bench(
        {
            **AC_METER,
            "battery_current": "sensor.amps",
            "battery_voltage": "sensor.volts",
            "battery_power_positive": positive,
        }
    )
    samples = play(assembler, [("ac", 90, 0), ("volts", 13, 1), ("amps", sign * 10, 2)])

    assert (samples[-1].battery_a, samples[-1].battery_w) == (10, 130)


def test_the_bank_current_follows_from_its_power() -> None:
    assembler = bench(
        {
            **AC_METER,
            "battery_power": "sensor.bank",
            "battery_voltage": {"entity": "sensor.volts", "unit": "mV"},
        }
    )
    (*_, last) = play(assembler, [("bank", -260, 0), ("volts", 13000, 1)])
    assert (last.battery_w, last.battery_a, last.voltage_v) == (-260, -20, 13)


def test_a_lost_power_sensor_of_the_bank_is_replaced_by_current_and_voltage() -> None:
    assembler = bench(
        {
            "battery_power": "sensor.bank",
            "battery_current": "sensor.amps",
            "battery_voltage": "sensor.volts",
        }
    )
    rows: list[Row] = [
        ("volts", 13, 0),
        ("amps", -20, 0),
        ("bank", -262, 0),
        ("bank", "unavailable", 10),
        ("amps", -40, 12),
        ("bank", -530, 30),
    ]
    samples = play(assembler, rows, until_s=60)

    assert load_at(samples, 5) == pytest.approx(262 * 0.9)
    assert load_at(samples, 11) == pytest.approx(260 * 0.9)
    assert load_at(samples, 20) == pytest.approx(520 * 0.9)
    assert load_at(samples, 40) == pytest.approx(530 * 0.9)


def test_a_dc_load_counts_as_the_ac_load_it_equals() -> None:
    assembler = bench({"dc_load_power": "sensor.dc"})
    samples = play(assembler, [("dc", 100, 0), ("dc", "unknown", 5)])
    assert loads(samples) == [(0, 90), (5, None)]


def test_ac_and_dc_add_up_where_a_galley_load_hangs_on_dc() -> None:
    sensors = {**AC_METER, "dc_load_power": "sensor.dc"}
    pot = {
        "name": "Slow pot",
        "kind": "slow_cooker",
        "rated_power": 160,
        "supply": "dc",
    }
    rows: list[Row] = [("ac", 1000, 0), ("dc", 100, 1), ("dc", "unavailable", 2)]

    with_pot = play(bench(sensors, appliances=[pot]), rows)
    without = play(bench(sensors), rows)

    # The lost DC meter takes its own part away and nothing else.
    assert loads(with_pot) == [(0, 1000), (1, 1090), (2, 1000)]
    assert loads(without) == [(0, 1000)]


def test_a_dc_appliance_with_its_own_meter_is_part_of_the_load() -> None:
    pot = {
        "name": "Slow pot",
        "kind": "slow_cooker",
        "rated_power": 160,
        "supply": "dc",
        "power_sensor": "sensor.pot",
    }
    samples = play(bench(AC_METER, appliances=[pot]), [("ac", 500, 0), ("pot", 100, 1)])
    assert loads(samples)[-1] == (1, 590)
    assert samples[-1].metered_w == (("Slow pot", 90.0),)


def test_every_meter_of_an_appliance_is_told_by_name() -> None:
    appliances = [
        {"name": "Kettle", **RATED, "power_sensor": "sensor.plug_1"},
        {"name": "Hob", **RATED},
        {
            "name": "Oven",
            **RATED,
            "power_sensor": {"entity": "sensor.plug_2", "unit": "kW"},
        },
    ]
    samples = play(
        bench(AC_METER, appliances=appliances),
        [("ac", 2200, 0), ("plug_2", 1.5, 1), ("plug_1", "unavailable", 2)],
    )
    assert samples[-1].metered_w == (("Kettle", None), ("Oven", 1500.0))


def test_only_a_relay_known_to_be_open_opens_its_circuit() -> None:
    circuit = {"breaker_current": 16, "voltage": 230}
    assembler = bench(
        AC_METER,
        circuits=[
            {"name": "Galley 1", **circuit, "relay": "switch.relay_1"},
            {"name": "Galley 2", **circuit, "relay": "switch.relay_2"},
        ],
    )
    rows: list[Row] = [
        ("ac", 100, 0),
        ("relay_1", "off", 1),
        ("relay_2", "on", 2),
        ("relay_1", "unavailable", 3),
        ("relay_2", "off", 4),
        ("relay_2", "on", 5),
    ]
    circuits = [sorted(sample.open_circuits) for sample in play(assembler, rows)]
    assert circuits == [[], ["Galley 1"], [], ["Galley 2"], []]


def test_charge_voltage_and_temperature_stand_beside_the_load() -> None:
    assembler = bench(
        {
            **AC_METER,
            "solar_power": ["sensor.port", "sensor.starboard"],
            "other_charging_power": "sensor.alternator",
            "battery_voltage": "sensor.volts",
            "battery_soc": "sensor.soc",
            "battery_temperature": "sensor.warmth",
        }
    )
    rows: list[Row] = [
        ("ac", 100, 0),
        ("volts", 13.2, 1),
        ("soc", 81.5, 2),
        ("warmth", 24.5, 3),
        ("port", 120, 4),
        ("starboard", 80, 5),
        ("alternator", 300, 6),
        ("port", "unavailable", 7),
    ]
    samples = play(assembler, rows)

    before, last = samples[-2:]
    assert (before.voltage_v, before.soc, before.temperature_c) == (13.2, 81.5, 24.5)
    assert (before.solar_w, before.other_charging_w) == (200, 300)
    # Half of the array is not the array.
    assert (last.solar_w, last.load_w) == (None, 100)


def test_140_amperes_for_a_quarter_of_an_hour_while_the_voltage_falls() -> None:
    """Plain arithmetic: 140 A x 900 s = 35.000 Ah; at 12.9 V on average 451.50 Wh."""
    assembler = LoadAssembler(
        parse_boat(
            {
                "name": "Petrel",
                "latitude": 38.53,
                "longitude": -28.62,
                "time_zone": "UTC",
                "sensors": {
                    "battery_current": "sensor.amps",
                    "battery_voltage": "sensor.volts",
                },
                "bank": {
                    "capacity_ah": 560,
                    "nominal_voltage": 12.8,
                    "reserve_soc": 35,
                },
                "appliances": [{"name": "Hob", **RATED, "supply": "dc"}],
            }
        )
    )
    rows: list[Row] = [("amps", -140, 0)]
    rows += [("volts", 13.2 - 0.6 * second / 900, second) for second in range(901)]
    samples = play(assembler, rows) + assembler.finish()

    flow = accounted(assembler, samples, 900)

    assert flow.net_ah == pytest.approx(35.000, abs=1e-6)
    assert flow.load_wh == pytest.approx(451.50, abs=0.05)
    share = flow.runs["Hob", START_S]
    assert share.energy_wh == pytest.approx(451.50, abs=0.05)
    # Over the voltage measured at the time; over the nominal one it would be 35.273.
    assert share.bank_ah == pytest.approx(35.000, abs=0.002)
    assert share.drawn_ah == pytest.approx(35.000, abs=0.002)
    assert flow.unmeasured_s == 0


GAP_ROWS: list[Row] = [("ac", 1990, 0)]


def test_a_told_gap_is_not_bridged() -> None:
    """600 s after 1990 W hold 331.67 Wh, a line to 80 W 172.50 Wh; the truth is unknown."""
    assembler = bench(AC_METER, appliances=[{"name": "Hob", **RATED}])
    rows: list[Row] = [*GAP_ROWS, ("ac", "unavailable", 0.001), ("ac", 80, 600)]
    flow = accounted(assembler, play(assembler, rows), 600)

    assert flow.load_wh == pytest.approx(0.0, abs=0.001)
    assert flow.unmeasured_s == pytest.approx(600, abs=0.01)


def test_a_silent_gap_is_held_for_five_minutes_and_then_counted_as_a_gap() -> None:
    assembler = bench(AC_METER, appliances=[{"name": "Hob", **RATED}])
    flow = accounted(assembler, play(assembler, [*GAP_ROWS, ("ac", 80, 600)]), 600)

    assert flow.unmeasured_s == pytest.approx(300)
    assert flow.load_wh == pytest.approx(1990 * 300 / 3600)


def test_a_late_reading_counts_from_now_on_unless_a_newer_one_is_known() -> None:
    assembler = bench({**AC_METER, "battery_soc": "sensor.soc"})
    rows: list[Row] = [
        ("ac", 100, 0),
        ("soc", 80, 10),
        ("ac", 200, 8),
        ("ac", 150, 7),
        ("soc", 79, 20),
    ]
    samples = play(assembler, rows)

    assert loads(samples) == [(0, 100), (10, 100), (10, 200), (20, 200)]
    assert (assembler.late, assembler.dropped) == (2, 1)


def test_a_doubled_reading_is_harmless() -> None:
    once, twice = bench(AC_METER), bench(AC_METER)
    rows: list[Row] = [("ac", 100, 0), ("ac", 1500, 2), ("ac", "unavailable", 9)]

    assert play(twice, [row for row in rows for _ in range(2)]) == play(once, rows)
    assert (once.doubled, twice.doubled) == (0, 3)


def test_of_two_values_at_one_moment_the_later_counts() -> None:
    assert load_at(play(bench(AC_METER), [("ac", 100, 0), ("ac", 900, 0)]), 0) == 900


def test_text_where_a_number_belongs_is_counted_and_not_believed() -> None:
    assembler = bench(AC_METER)
    rows: list[Row] = [("ac", 100, 0), ("ac", "12 W", 2), ("ac", "unavailable", 4)]
    assert loads(play(assembler, rows)) == [(0, 100), (2, None)]
    assert assembler.unreadable == 1


@pytest.mark.parametrize("state", ["4294967295", "-2147483648", "1e308"])
def test_a_meter_that_overflows_is_not_believed(state: str) -> None:
    assembler = bench(AC_METER)
    rows: list[Row] = [("ac", 100, 0), ("ac", state, 2), ("ac", 110, 4)]
    assert loads(play(assembler, rows)) == [(0, 100), (2, None), (4, 110)]
    assert assembler.unreadable == 1


@pytest.mark.parametrize(
    ("role", "state"),
    [
        ("battery_soc", "255"),
        ("battery_soc", "-20"),
        ("battery_voltage", "0"),
        ("battery_voltage", "-12"),
        ("battery_voltage", "6553.5"),
        ("battery_temperature", "-273.15"),
    ],
)
def test_what_no_bank_can_be_is_unreadable(role: str, state: str) -> None:
    assembler = bench({**AC_METER, role: "sensor.gauge"})
    play(assembler, [("ac", 100, 0), ("gauge", state, 1), ("ac", 110, 2)])
    assert assembler.unreadable == 1
    assert "sensor.gauge" in [one.entity_id for one in assembler.missing]


def test_sensors_of_others_are_ignored() -> None:
    assembler = bench(AC_METER)
    assert play(assembler, [("ac", 100, 0), ("neighbour", 900, 1)]) == assembler.feed(
        reading(("neighbour", 5, 2))
    ) + play(bench(AC_METER), [("ac", 100, 0)])
    assert assembler.entity_ids == {"sensor.ac"} == entity_ids_of(assembler.boat)


def complaints(assembler: LoadAssembler) -> tuple[str, ...]:
    return tuple(said(complaint.said) for complaint in assembler.missing)


def test_what_is_missing_is_said_and_why() -> None:
    assembler = bench({**AC_METER, "battery_soc": "sensor.soc"})
    assert complaints(assembler) == (
        "The AC load meter (sensor.ac) has not been heard yet.",
        "The battery gauge (sensor.soc) has not been heard yet.",
    )
    play(assembler, [("ac", 1500, 0), ("soc", "unknown", 1)], until_s=12 * 60)
    assert complaints(assembler) == (
        "The AC load meter (sensor.ac) has been silent for 12 min.",
        "The battery gauge (sensor.soc) has been unknown for 12 min.",
    )
    play(assembler, [("ac", 90, 800), ("soc", "unavailable", 801)], until_s=12000)
    assert complaints(assembler) == (
        "The AC load meter (sensor.ac) has been silent for 3 h.",
        "The battery gauge (sensor.soc) has been unavailable for 3 h.",
    )
    play(assembler, [("ac", 90, 12001), ("soc", 50, 12002)])
    assert complaints(assembler) == ()


def test_the_end_of_a_history_tells_what_holds_at_the_end() -> None:
    assembler = bench({**AC_METER, "battery_soc": "sensor.soc"})
    assert assembler.finish() == []
    play(assembler, [("ac", 100, 0), ("soc", 80, 30)])
    assert loads(assembler.finish()) == [(30, 100)]


def test_a_state_of_another_version_is_refused() -> None:
    with pytest.raises(ValueError, match="assembler state version 0 is not 1"):
        bench(AC_METER).restore({"version": 0})
