"""How full the bank is: by gauge, by counting, by voltage, and how sure that is."""

from dataclasses import replace

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.bank.charge_state import (
    ChargeCounter,
    ChargeSource,
    soc_by_voltage,
    voltage_soc_is_poor,
)
from custom_components.galley_loads.core.boat.boat import (
    Bank,
    Chemistry,
    Sensor,
    Sensors,
)
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from tests.core.boats import small_boat

LFP = Bank(200.0, 12.8, 30.0)

# Sunil, Pattipati, Balasingam (IEEE Trans. Instrum. Meas. 2025), pseudo open-circuit
# voltage at C/32, interpolated linearly: percent and V of four cells.
LFP_VOLTAGES = [
    (10, 12.7951),
    (20, 12.9542),
    (50, 13.1962),
    (80, 13.3254),
    (90, 13.3685),
    (99, 13.5576),
]


@pytest.mark.parametrize(("soc", "voltage_v"), LFP_VOLTAGES)
def test_a_resting_lithium_bank_reads_as_published(soc, voltage_v):
    assert soc_by_voltage(LFP, voltage_v) == pytest.approx(soc, abs=0.05)


def test_on_the_plateau_ten_millivolts_a_pack_are_two_percent():
    # 1.077 mV per percent and cell between 30 and 98 %.
    shift = soc_by_voltage(LFP, 13.21) - soc_by_voltage(LFP, 13.20)
    assert shift == pytest.approx(2.32, abs=0.02)


@pytest.mark.parametrize(
    ("bank", "soc", "poor"),
    [
        (LFP, 50.0, True),
        (LFP, 94.0, True),
        (LFP, 10.0, False),
        (LFP, 97.0, False),
        (replace(LFP, chemistry=Chemistry.AGM), 50.0, False),
    ],
)
def test_voltage_alone_is_called_poor_where_it_is(bank, soc, poor):
    assert voltage_soc_is_poor(bank, soc) is poor


@given(st.floats(5, 70), st.floats(0, 3), st.sampled_from(list(Chemistry)))
def test_a_higher_voltage_never_means_less_charge(voltage_v, more, chemistry):
    bank = replace(LFP, chemistry=chemistry)
    low, high = soc_by_voltage(bank, voltage_v), soc_by_voltage(bank, voltage_v + more)
    assert 0.0 <= low <= high <= 100.0


def without_gauge(chemistry: Chemistry = Chemistry.LFP, **sensors: object):
    return small_boat(
        bank=Bank(200.0, 12.8, 30.0, chemistry, charge_efficiency=0.99),
        sensors=Sensors(
            ac_load_power=Sensor("sensor.load"),
            battery_current=Sensor("sensor.amps"),
            battery_voltage=Sensor("sensor.volts"),
            **sensors,
        ),
    )


def sample(at_s: float, amps: float | None, volts: float | None = 13.196) -> LoadSample:
    return LoadSample(at_s, 0.0, battery_a=amps, voltage_v=volts)


def counted(*samples: LoadSample) -> ChargeCounter:
    counter = ChargeCounter(without_gauge())
    for one in samples:
        counter.observe(one)
    return counter


def test_a_gauge_is_believed():
    counter = ChargeCounter(small_boat())
    assert counter.state().source is ChargeSource.UNKNOWN
    counter.observe(LoadSample(0.0, 0.0, soc=63.0))
    assert counter.state().source is ChargeSource.GAUGE
    assert counter.state().soc == 63.0
    counter.observe(LoadSample(1.0, 0.0, soc=None, voltage_v=13.2, battery_w=0.0))
    assert counter.state().source is ChargeSource.UNKNOWN


def test_counting_starts_from_the_resting_voltage_and_doubts_it():
    state = counted(sample(0.0, 0.0)).state()
    assert state.source is ChargeSource.COUNTED
    assert state.soc == pytest.approx(50.0, abs=0.1)
    assert state.doubt == pytest.approx(15.0)
    assert state.since_full_s is None


def test_what_goes_in_and_out_is_counted_with_what_charging_loses():
    # 50 A out for 1.5 h, 30 A in for 2 h on 200 Ah: 7.8 points less, at 0.99.
    state = counted(
        sample(0.0, 0.0),
        sample(0.5, -50.0),
        sample(5400.5, 30.0),
        sample(12_600.5, 0.0),
    ).state()
    assert state.soc == pytest.approx(50.0 - 7.8, abs=0.1)


def test_a_full_bank_sets_the_count_right():
    state = counted(
        sample(0.0, 5.0, 13.9), sample(200.0, 5.0, 13.9), sample(400.0, 0.0, 13.4)
    ).state()
    assert state.soc == 100.0
    assert state.doubt == pytest.approx(1.0)
    assert state.since_full_s == 400.0


def test_a_strong_charge_at_a_high_voltage_is_not_full_yet():
    state = counted(sample(0.0, 90.0, 13.9), sample(600.0, 90.0, 13.9)).state()
    assert state.since_full_s is None
    assert state.doubt == pytest.approx(20.0)


def test_a_voltage_under_charge_is_replaced_when_the_bank_first_rests():
    charging = (sample(0.0, 90.0, 13.9), sample(600.0, 60.0, 13.8))
    state = counted(*charging, sample(1200.0, -3.0, 13.196)).state()
    assert state.soc == pytest.approx(50.0, abs=0.1)
    assert state.doubt == pytest.approx(15.0)
    # Once only: from then on the count stands, whatever the voltage does.
    later = counted(
        *charging, sample(1200.0, -3.0, 13.196), sample(1800.0, -3.0, 13.0)
    ).state()
    assert later.soc == pytest.approx(50.0, abs=0.5)


def test_doubt_grows_with_time_and_faster_over_a_gap():
    full = (sample(0.0, 1.0, 13.9), sample(400.0, -2.0, 13.2))
    steady = [sample(400.0 + 600.0 * i, -2.0) for i in range(1, 145)]
    gap = [sample(400.0 + 600.0 * i, None) for i in range(1, 145)]
    after_full = counted(*full).state().doubt
    after_a_day = counted(*full, *steady).state().doubt
    after_a_gap = counted(*full, *gap).state().doubt
    assert after_full < after_a_day < 4.0
    assert after_a_gap > 15.0


def test_power_counts_where_no_current_is_metered():
    counter = ChargeCounter(without_gauge())
    counter.observe(LoadSample(-1.0, 0.0, battery_w=0.0, voltage_v=13.196))
    counter.observe(LoadSample(0.0, 0.0, battery_w=-659.8, voltage_v=13.196))
    counter.observe(LoadSample(3600.0, 0.0, battery_w=0.0, voltage_v=13.196))
    assert counter.state().soc == pytest.approx(25.0, abs=0.1)


def test_the_count_survives_a_restart():
    samples = [sample(600.0 * i, -10.0 + i) for i in range(12)]
    whole = counted(*samples)
    first = counted(*samples[:5])
    again = ChargeCounter(without_gauge())
    again.restore(first.snapshot(), samples[4])
    for one in samples[5:]:
        again.observe(one)
    assert again.state() == whole.state()


@given(st.lists(st.floats(-300, 300), min_size=1, max_size=40))
def test_the_count_stays_within_empty_and_full(currents):
    counter = ChargeCounter(without_gauge())
    for i, amps in enumerate(currents):
        counter.observe(sample(1800.0 * i, amps))
        state = counter.state()
        assert 0.0 <= state.soc <= 100.0
        assert state.doubt <= 20.0
