"""Samples become quarter hours: means, gaps, and a full bank that turns sun away."""

from copy import replace
from itertools import pairwise
import json

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import (
    Bank,
    Chemistry,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.metering.quarter_hours import (
    Quarter,
    QuarterMeter,
    battery_power_w,
    turns_sun_away,
)
from tests.core.boats import small_boat

BOAT = small_boat()


def sample(at_s: float, **values: float | None) -> LoadSample:
    known = {"load_w": 100.0, "solar_w": 300.0, "battery_w": 180.0, "soc": 60.0}
    return LoadSample(at_s, **{**known, **values})


def closed(*samples: LoadSample) -> list[Quarter]:
    meter = QuarterMeter(BOAT)
    return [quarter for one in samples for quarter in meter.observe(one)]


def test_a_quarter_hour_is_the_mean_of_what_held():
    (quarter,) = closed(
        sample(0.0, solar_w=300.0), sample(300.0, solar_w=0.0), sample(900.0)
    )
    assert quarter.start_s == 0.0
    assert quarter.solar_w == pytest.approx(100.0)
    assert quarter.load_w == 100.0
    assert quarter.other_w == 0.0
    assert not quarter.turned_away


def test_a_source_that_was_missing_most_of_the_time_is_not_known():
    (quarter,) = closed(sample(0.0), sample(300.0, solar_w=None), sample(900.0))
    assert quarter.solar_w is None
    assert quarter.load_w == 100.0


def test_one_sample_may_hold_over_several_quarter_hours():
    quarters = closed(sample(450.0), sample(3600.0))
    assert [q.start_s for q in quarters] == [0.0, 900.0, 1800.0, 2700.0]
    assert quarters[0].load_w == 100.0


def test_a_long_silence_is_not_bridged():
    quarters = closed(sample(0.0), sample(86_400.0))
    assert len(quarters) == 24
    assert max(q.start_s for q in quarters) < 6 * 3600.0
    ragged = closed(sample(100.0), sample(86_400.0))
    assert ragged[-1].load_w is None


def test_time_that_does_not_move_adds_nothing():
    assert closed(sample(100.0), sample(100.0), sample(90.0)) == []


def test_current_and_voltage_make_a_power():
    assert battery_power_w(LoadSample(0.0, 0.0, battery_a=-10, voltage_v=13.0)) == -130
    assert battery_power_w(LoadSample(0.0, 0.0, battery_a=-10)) is None


@pytest.mark.parametrize(
    ("values", "away"),
    [
        # Full and hardly charging: the charger holds the sun back.
        ({"soc": 99.0, "battery_w": 5.0}, True),
        # Full, and giving: every watt of sun is used.
        ({"soc": 99.0, "battery_w": -80.0}, False),
        # The gauge says full, yet a real charge goes in.
        ({"soc": 99.0, "battery_w": 300.0}, False),
        ({"soc": 90.0, "battery_w": 5.0}, False),
        # No gauge: voltage tells.
        ({"soc": None, "voltage_v": 13.9, "battery_w": 5.0}, True),
        ({"soc": None, "voltage_v": 13.3, "battery_w": 5.0}, False),
        ({"soc": None, "battery_w": 5.0}, False),
        # No meter of the bank at all: near full is all there is.
        ({"soc": 99.0, "battery_w": None}, True),
    ],
)
def test_a_full_bank_turns_sun_away_while_it_hardly_charges(values, away):
    assert turns_sun_away(BOAT, sample(0.0, **values)) is away


def test_a_lead_bank_holds_back_long_before_it_is_full():
    lead = small_boat(bank=Bank(400, 12.0, 50, Chemistry.AGM))
    assert turns_sun_away(lead, sample(0.0, soc=92.0, battery_w=150.0))
    assert not turns_sun_away(lead, sample(0.0, soc=70.0, battery_w=150.0))


def test_a_boat_without_chargers_has_none():
    boat = small_boat(sensors=Sensors(ac_load_power=Sensor("sensor.load")))
    meter = QuarterMeter(boat)
    meter.observe(LoadSample(0.0, 50.0))
    (quarter,) = meter.observe(LoadSample(900.0, 50.0))
    assert (quarter.solar_w, quarter.other_w, quarter.battery_w) == (0.0, 0.0, None)


@given(
    st.lists(
        st.tuples(st.floats(1, 2000), st.floats(0, 3000)), min_size=2, max_size=30
    ),
    st.integers(0, 29),
)
def test_energy_is_kept_and_a_restart_changes_nothing(steps, cut):
    samples, at_s = [], 0.0
    for gap_s, load_w in steps:
        samples.append(sample(at_s, load_w=load_w))
        at_s += gap_s
    samples.append(sample((at_s // 900 + 1) * 900.0))
    quarters = closed(*samples)
    energy = sum(q.load_w * 900.0 for q in quarters)
    expected = sum(a.load_w * (b.at_s - a.at_s) for a, b in pairwise(samples))
    assert energy == pytest.approx(expected, rel=1e-9, abs=1e-6)

    first = QuarterMeter(BOAT)
    done = [q for one in samples[:cut] for q in first.observe(one)]
    again = QuarterMeter(BOAT)
    again.restore(json.loads(json.dumps(first.snapshot())))
    done += [q for one in samples[cut:] for q in again.observe(one)]
    assert done == quarters

    at_once = QuarterMeter(BOAT)
    done = at_once.observe_all(samples[:cut])
    done += at_once.observe_all(samples[cut:])
    assert done == quarters


def test_the_newest_sample_is_at_hand():
    meter = QuarterMeter(BOAT)
    assert meter.last is None
    meter.observe(sample(5.0))
    assert meter.last == replace(sample(5.0))
