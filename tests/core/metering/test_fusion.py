"""Without a load meter the load is what comes in less what the bank takes.

The histories here are invented: a true load and a true sun, sampled by meters that have
clocks of their own and tell only changes.
"""

from collections.abc import Callable, Iterator
from itertools import pairwise
import random

import pytest

from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.pace import Pace

from .load_rig import START_S, SUN_AND_BANK, Row, bench, load_at, loads, play

type Truth = Callable[[float], float]

CURRENT_AND_VOLTAGE = {
    "solar_power": "sensor.sun",
    "battery_current": "sensor.amps",
    "battery_voltage": "sensor.volts",
}


def meter(
    name: str, truth: Truth, period_s: float, start_s: float, seed: int
) -> Iterator[Row]:
    """Yield what a meter says of a truth: at its own times, a watt off, only changes."""
    rng = random.Random(seed)
    last, at_s = "", start_s
    while at_s < 1200:
        text = f"{truth(at_s) + rng.gauss(0, 1):.0f}"
        if text != last:
            yield name, text, at_s
            last = text
        at_s += period_s * rng.uniform(0.95, 1.05)


def measured(
    sun_w: Truth, load_w: Truth, sun_period_s: float, bank_period_s: float, seed: int
) -> list[Row]:
    """Return what the meters of sun and bank say; the inverter gives 0.9."""
    rows = [
        *meter("sun", sun_w, sun_period_s, 0.0, seed),
        *meter(
            "bank", lambda t: sun_w(t) - load_w(t) / 0.9, bank_period_s, 0.3, seed + 1
        ),
    ]
    return sorted(rows, key=lambda row: row[2])


def clouds(at_s: float) -> float:
    """Return a sun that clouds take away within a second, again and again."""
    return 480.0 if int(at_s) % 47 < 25 else 130.0


def steps(samples: list[LoadSample], least_w: float) -> list[float]:
    """Return when the load changed by at least so much, in seconds since the start."""
    known = [(s.at_s - START_S, s.load_w) for s in samples if s.load_w is not None]
    return [
        b_s for (_, a_w), (b_s, b_w) in pairwise(known) if abs(b_w - a_w) >= least_w
    ]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("sun_period_s", "bank_period_s"), [(5, 1), (1, 5), (2, 2), (3, 1), (5, 5), (10, 2)]
)
def test_clouds_make_no_load_on_whatever_clocks(
    sun_period_s: float, bank_period_s: float, seed: int
) -> None:
    def load_w(at_s: float) -> float:
        return 90.0 if at_s < 600 else 1290.0

    rows = measured(clouds, load_w, sun_period_s, bank_period_s, seed)
    samples = play(bench(SUN_AND_BANK), rows, 1300)

    # While the pace of each meter is being learnt a ghost may pass.
    late = [s for s in samples if s.at_s > START_S + 150]
    slowest_s = max(sun_period_s, bank_period_s)
    (at_s,) = [at_s for at_s in steps(late, 40) if at_s > 600 - slowest_s] or [0.0]
    assert at_s == pytest.approx(600, abs=1.5 * slowest_s)
    assert len(steps(late, 40)) == 1


def test_plain_differences_would_show_a_load_with_every_cloud() -> None:
    """What the two rules are for: the same readings without them."""
    rows = measured(clouds, lambda _: 90.0, 5, 1, 0)
    sun_w = bank_w = ghosts = 0.0
    last_w = 90.0
    for name, text, _ in rows:
        if name == "sun":
            sun_w = float(text)
        else:
            bank_w = float(text)
        load_w = 0.9 * (sun_w - bank_w)
        ghosts += abs(load_w - last_w) > 40
        last_w = load_w
    assert ghosts > 30


def test_a_load_that_the_sun_takes_over_within_seconds_is_seen_whole() -> None:
    """With a full bank the charger follows the load, and the bank is back at rest."""

    def load_w(at_s: float) -> float:
        return 100.0 if at_s < 600 else 500.0

    def sun_w(at_s: float) -> float:
        return load_w(at_s - 1.5) / 0.9

    samples = play(bench(SUN_AND_BANK), measured(sun_w, load_w, 5, 1, 4), 1300)

    assert load_at(samples, 590) == pytest.approx(100, abs=3)
    assert load_at(samples, 612) == pytest.approx(500, abs=3)
    assert len(steps(samples, 40)) == 1


def test_at_night_a_step_of_the_bank_is_told_at_once() -> None:
    rows: list[Row] = [("sun", 0, 0), ("bank", -100, 1), ("bank", -1100, 400)]
    assert loads(play(bench(SUN_AND_BANK), rows, 400.5)) == [
        (0, None),
        (1, 90),
    ]
    # A step might be the sun's: it waits for the sun's word, a period at most.
    assert loads(play(bench(SUN_AND_BANK), rows, 407))[-1] == (400, 990)
    # Small changes need not wait when the sun has been quiet.
    quiet: list[Row] = [*rows[:2], ("bank", -110, 400)]
    assert loads(play(bench(SUN_AND_BANK), quiet))[-1] == (400, 99)


def test_the_sun_alone_moves_the_load_when_the_bank_keeps_still() -> None:
    rows: list[Row] = [("sun", 200, 0), ("bank", 0, 1), ("sun", 700, 60)]
    samples = play(bench(SUN_AND_BANK), rows, 70)
    assert loads(samples)[-1] == (60, 630)


def test_a_sagging_voltage_does_not_make_two_steps_of_one() -> None:
    rows: list[Row] = [("sun", 0, 0), ("volts", 13.3, 0.5), ("amps", -8, 1)]
    for second in range(2, 60):
        rows += [("amps", -8 + second % 2 / 10, second)]
        rows += [("volts", 13.3 + second % 2 / 100, second + 0.4)]
    rows += [("amps", -128, 60), ("volts", 12.9, 60.4)]
    samples = play(bench(CURRENT_AND_VOLTAGE), rows, 80)

    assert steps(samples, 20) == [60]
    assert load_at(samples, 70) == pytest.approx(128 * 12.9 * 0.9)


def test_sun_bank_and_load_of_a_sample_agree() -> None:
    rows = measured(clouds, lambda at_s: 300.0 + at_s % 200, 3, 1, 7)
    known = [s for s in play(bench(SUN_AND_BANK), rows, 1300) if s.load_w is not None]
    assert len(known) > 100
    for sample in known:
        assert sample.solar_w is not None and sample.battery_w is not None
        assert sample.load_w == pytest.approx(
            0.9 * (sample.solar_w - sample.battery_w), abs=1e-6
        )


def test_several_arrays_and_an_alternator_add_up() -> None:
    sensors = {
        "solar_power": ["sensor.port", "sensor.starboard"],
        "other_charging_power": "sensor.alternator",
        "battery_power": "sensor.bank",
    }
    rows: list[Row] = [
        ("port", 100, 0),
        ("starboard", 150, 1),
        ("alternator", 400, 2),
        ("bank", 450, 3),
        ("alternator", 600, 60),
        ("bank", 650, 61),
    ]
    samples = play(bench(sensors), rows, 90)
    assert {load for at_s, load in loads(samples) if at_s >= 3} == {180.0}
    assert samples[-1].solar_w == 250
    assert samples[-1].other_charging_w == 600


def test_charge_and_relays_change_in_order_with_the_load() -> None:
    sensors = {**SUN_AND_BANK}
    rows: list[Row] = [("sun", 300, 0), ("bank", 200, 1), ("bank", 150, 2)]
    rows += [("soc", 80, 2.5), ("sun", 250, 4)]
    samples = play(bench(sensors), rows, 30)

    assert [s.at_s for s in samples] == sorted(s.at_s for s in samples)
    assert {s.load_w for s in samples if s.at_s > START_S + 1} == {90.0}
    assert samples[-1].soc == 80


def test_a_held_back_moment_says_since_when() -> None:
    assembler = bench(SUN_AND_BANK)
    assert assembler.held_since_s is None
    play(assembler, [("sun", 300, 0), ("bank", 200, 1), ("bank", 150, 5)])
    assert assembler.held_since_s == START_S + 5
    play(assembler, [], 30)
    assert assembler.held_since_s is None


def test_the_period_of_a_sensor_that_tells_changes_alone_is_learnt() -> None:
    pace, rng, at_s = Pace(), random.Random(3), 0.0
    assert pace.wait_s == pytest.approx(6.8)
    for _ in range(60):
        at_s += 5 * rng.choice([1, 1, 2, 5]) * rng.uniform(0.98, 1.02)
        pace.tick(at_s)
    assert pace.period_s == pytest.approx(5, rel=0.03)
    # A night of silence is no period, and two words at once are one.
    for quiet_s in (4000.0, 0.01, 9000.0):
        at_s += quiet_s
        pace.tick(at_s)
    assert pace.period_s == pytest.approx(5, rel=0.03)
    for _ in range(60):
        at_s += 25
        pace.tick(at_s)
    assert (pace.period_s, pace.wait_s) == (10, 12)
