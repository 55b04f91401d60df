"""A steady sensor is silent and right, a dead one is silent and wrong."""

import pytest

from custom_components.galley_loads.core.metering.load_sample import LoadSample
from tests.said import said

from .load_rig import AC_METER, SUN_AND_BANK, Row, bench, load_at, loads, play

HOUR_S = 3600.0
WITH_CHARGE = {**AC_METER, "battery_soc": "sensor.soc"}


def lost_at(samples: list[LoadSample]) -> float | None:
    """Return when the load stopped being measured."""
    return next((at_s for at_s, load_w in loads(samples) if load_w is None), None)


@pytest.mark.parametrize(
    ("power_w", "held_s"),
    [
        (3000, 300),
        (720, 300),
        (360, 600),
        (60, HOUR_S),
        (10, 6 * HOUR_S),
        (0, 6 * HOUR_S),
    ],
)
def test_in_silence_a_value_is_held_until_it_stands_for_60_watt_hours(
    power_w: float, held_s: float
) -> None:
    assembler = bench(AC_METER)
    assert lost_at(play(assembler, [("ac", power_w, 0)], 7 * HOUR_S)) == held_s


def test_hours_off_are_a_gap_and_not_the_last_power_held() -> None:
    samples = play(bench(AC_METER), [("ac", 1500, 0), ("ac", 1400, 8 * HOUR_S)])
    assert loads(samples) == [(0, 1500), (300, None), (8 * HOUR_S, 1400)]


def test_a_steady_source_is_believed_while_the_boat_speaks() -> None:
    chatter: list[Row] = [("soc", 50 + n % 3, 200.0 * n) for n in range(1, 15)]
    samples = play(bench(WITH_CHARGE), [("ac", 1500, 0), *chatter], 2799)
    assert lost_at(samples) is None


def test_a_source_that_stays_silent_for_an_hour_and_more_is_lost() -> None:
    chatter: list[Row] = [("soc", 50 + n % 3, 200.0 * n) for n in range(1, 40)]
    samples = play(bench(WITH_CHARGE), [("ac", 1500, 0), *chatter], 7800)
    assert lost_at(samples) == HOUR_S + 300
    assert samples[-1].soc is not None


def test_an_unchanged_value_that_is_reported_is_fresh() -> None:
    assembler = bench(AC_METER)
    rows: list[Row] = [("ac", 1500, 60.0 * n) for n in range(200)]
    assert loads(play(assembler, rows, 12000)) == [(0, 1500)]


def test_nothing_from_a_meter_stays_nothing_for_days_while_the_boat_speaks() -> None:
    days: list[Row] = [("soc", 50 + n % 3, 240.0 * n) for n in range(1080)]
    assert lost_at(play(bench(WITH_CHARGE), [("ac", 0, 0), *days])) is None


def test_a_charge_that_does_not_change_for_a_day_is_lost_and_the_load_is_not() -> None:
    day: list[Row] = [("ac", 100 + n % 3, 200.0 * n) for n in range(600)]
    samples = play(bench(WITH_CHARGE), [("soc", 100, 0), *day])
    gone = next(s.at_s - samples[0].at_s for s in samples if s.soc is None)
    assert gone == pytest.approx(30 * HOUR_S, abs=200)
    assert lost_at(samples[1:]) is None


def test_one_sensor_unavailable_takes_only_its_own_part_away() -> None:
    sensors = {**AC_METER, **SUN_AND_BANK}
    rows: list[Row] = [
        ("ac", 100, 0),
        ("sun", 300, 1),
        ("bank", 150, 2),
        ("soc", 80, 3),
        ("sun", "unavailable", 4),
    ]
    (*_, last) = play(bench(sensors), rows)
    assert (last.load_w, last.solar_w, last.battery_w, last.soc) == (100, None, 150, 80)


def test_a_charger_that_goes_to_sleep_at_dusk_counts_as_nothing_all_night() -> None:
    assembler = bench(SUN_AND_BANK)
    rows: list[Row] = [("sun", 4, 0), ("bank", -100, 1), ("sun", "unavailable", 60)]
    rows += [("bank", -100 - n % 5, 61.0 + 200 * n) for n in range(230)]
    samples = play(assembler, rows)

    assert load_at(samples, 9 * HOUR_S) == pytest.approx(92, abs=3)
    assert samples[-1].solar_w == 0
    (complaint,) = (one for one in assembler.missing if one.entity_id == "sensor.sun")
    assert complaint.asleep
    assert said(complaint.said).startswith(
        "The solar meter (sensor.sun) has been unavai"
    )
    assert said(complaint.said).endswith(", counted as 0 as it last was.")
    assert load_at(play(assembler, [], 17 * HOUR_S), 17 * HOUR_S) is None


def test_a_charger_lost_in_full_sun_leaves_the_load_unknown() -> None:
    rows: list[Row] = [("sun", 400, 0), ("bank", 300, 1), ("sun", "unavailable", 60)]
    samples = play(bench(SUN_AND_BANK), rows, 61)
    assert loads(samples)[-1] == (60, None)


def test_a_charger_nobody_hears_of_is_not_plugged_in() -> None:
    sensors = {**SUN_AND_BANK, "other_charging_power": "sensor.shore"}
    rows: list[Row] = [("sun", 0, 0), ("bank", -200, 1)]
    samples = play(bench(sensors), rows, 2)
    assert loads(samples)[-1] == (1, 180)
    assert samples[-1].other_charging_w is None

    # More goes into the bank than anybody gives: then it was plugged in after all.
    samples = play(bench(sensors), [*rows, ("bank", 500, 60)], 80)
    assert loads(samples)[-1] == (60, None)


def test_what_was_lost_in_silence_comes_back_with_its_own_next_word() -> None:
    assembler = bench(WITH_CHARGE)
    rows: list[Row] = [("ac", 1500, 0), ("soc", 80, 0), ("soc", 79, HOUR_S)]
    samples = play(assembler, rows)
    assert loads(samples)[-1] == (HOUR_S, None)
    assert loads(play(assembler, [("ac", 1500, HOUR_S + 1)])) == [(HOUR_S + 1, 1500)]


@pytest.mark.parametrize(
    ("bank_w", "sun_w", "ends_s"),
    [
        (-100, 0, 100.0),  # the kettle is off, and its meter did not tell
        (-2200, 0, None),  # it still boils: the bank gives what it takes
        (-700, 1500, None),  # with the sun's help
    ],
)
def test_a_silent_meter_is_given_up_when_the_bank_shows_that_its_load_has_ended(
    bank_w: float, sun_w: float, ends_s: float | None
) -> None:
    rows: list[Row] = [("sun", sun_w, 0), ("bank", sun_w - 2230, 0), ("ac", 2000, 1)]
    rows += [("bank", bank_w - 1, 30), ("bank", bank_w, 100), ("bank", bank_w + 1, 130)]
    samples = play(bench({**AC_METER, **SUN_AND_BANK}), rows)
    lost = [at_s for at_s, load_w in loads(samples) if load_w is None and at_s > 1]
    assert lost[:1] == ([] if ends_s is None else [ends_s])


def test_a_silent_meter_is_not_given_up_on_hearsay() -> None:
    """The alternator may be giving what the bank does not, and nobody says."""
    sensors = {**AC_METER, **SUN_AND_BANK, "other_charging_power": "sensor.alternator"}
    rows: list[Row] = [("sun", 0, 0), ("bank", -2230, 0), ("ac", 2000, 1)]
    samples = play(bench(sensors), [*rows, ("bank", -100, 200)])
    assert load_at(samples, 200) == 2000


def test_a_meter_that_never_says_the_same_twice_is_read_on() -> None:
    values_w = [n / 16 for n in range(6000)]
    rows: list[Row] = [("ac", value_w, float(n)) for n, value_w in enumerate(values_w)]
    rows += [("ac", 1.5, 6000.0), ("ac", "many", 6001.0), ("ac", 1.5, 6002.0)]
    told = [sample.load_w for sample in play(bench(AC_METER), rows)]
    assert told == [*values_w, 1.5, None, 1.5]
