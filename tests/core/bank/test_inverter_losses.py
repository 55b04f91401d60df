"""The inverter's conversion against published curves and a reference library."""

import random

from hypothesis import given, strategies as st
import numpy as np
import pvlib
import pytest

from custom_components.galley_loads.core.bank.inverter_losses import (
    ConversionMeter,
    LossCurve,
    stated_conversion,
)
from custom_components.galley_loads.core.boat.boat import Inverter

CURVE = LossCurve(3000.0)

# PVWatts Version 5 Manual (A. Dobos, 2014), Pdc0 = 3125 W: load share and efficiency.
EFFICIENCIES = [
    (0.02, 0.687825),
    (0.05, 0.863661),
    (0.10, 0.921628),
    (0.20, 0.949401),
    (0.30, 0.957583),
    (0.50, 0.962192),
    (0.75, 0.962075),
    (1.00, 0.960000),
]


@pytest.mark.parametrize(("share", "efficiency"), EFFICIENCIES)
def test_the_loss_curve_is_the_published_one(share, efficiency):
    dc_w = share * 3125.0
    assert CURVE.ac_w(dc_w) / dc_w == pytest.approx(efficiency, abs=1e-6)


@given(st.floats(20, 4000))
def test_the_loss_curve_agrees_with_the_reference_library(dc_w):
    reference = max(float(pvlib.inverter.pvwatts(dc_w, 3125.0, 0.96)), 0.0)
    assert CURVE.ac_w(dc_w) == pytest.approx(reference, abs=1e-6)


def test_the_curve_implies_an_idle_draw():
    # 0.5985 % of 3125 W.
    assert CURVE.idle_w == pytest.approx(18.70, abs=0.01)
    assert CURVE.ac_w(CURVE.idle_w) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(1, 3000))
def test_the_curve_can_be_read_both_ways(ac_w):
    assert CURVE.ac_w(CURVE.dc_w(ac_w)) == pytest.approx(ac_w, rel=1e-9)


def test_the_curve_has_its_worked_weighted_efficiencies():
    # CEC weights .04 .05 .12 .21 .53 .05 at 10 20 30 50 75 100 % give 0.959313,
    # the European ones .03 .06 .13 .10 .48 .20 at 5 10 20 30 50 100 % 0.954718.
    def at(share: float) -> float:
        return share * 3000.0 / CURVE.dc_w(share * 3000.0)

    cec = {0.1: 0.04, 0.2: 0.05, 0.3: 0.12, 0.5: 0.21, 0.75: 0.53, 1.0: 0.05}
    european = {0.05: 0.03, 0.1: 0.06, 0.2: 0.13, 0.3: 0.10, 0.5: 0.48, 1.0: 0.20}
    for weights, expected in ((cec, 0.959313), (european, 0.954718)):
        found = sum(weight * at(share) for share, weight in weights.items())
        assert found == pytest.approx(expected, abs=1e-6)


def test_beyond_every_root_of_the_curve_the_nominal_efficiency_holds():
    assert CURVE.dc_w(1e6) == pytest.approx(1e6 / 0.96)


def test_amperes_at_the_bank_for_an_1800_w_hob():
    # 1800 W at 0.90: 156.250 A at 12.8 V, 78.125 A at 25.6 V, 39.0625 A at 51.2 V.
    dc_w = stated_conversion(Inverter(2500.0, 20.0, 0.90)).dish_dc_w(1800.0)
    for voltage_v, current_a in ((12.8, 156.25), (25.6, 78.125), (51.2, 39.0625)):
        assert dc_w / voltage_v == pytest.approx(current_a)


def test_a_meal_of_300_wh_takes_26_ampere_hours():
    # 300 Wh AC at 0.90: 333.33 Wh, 26.0417 Ah at 12.8 V.
    dc_wh = stated_conversion(Inverter(2500.0, 20.0, 0.90)).dish_dc_w(300.0)
    assert dc_wh == pytest.approx(333.3333, abs=1e-3)
    assert dc_wh / 12.8 == pytest.approx(26.0417, abs=1e-4)


def test_idle_belongs_to_the_background_and_never_to_a_dish():
    # 20 W idle: 480 Wh or 37.5 Ah a day at 12.8 V, whether or not anybody cooks.
    conversion = stated_conversion(Inverter(2500.0, 20.0, 0.90))
    assert conversion.dc_w(0.0) * 24 / 12.8 == pytest.approx(37.5)
    assert conversion.dish_dc_w(900.0) == pytest.approx(1000.0)
    curve_only = stated_conversion(Inverter(2500.0))
    assert curve_only.dish_dc_w(900.0) == pytest.approx(
        curve_only.dc_w(900.0) - curve_only.idle_w
    )


def test_a_boat_without_inverter_converts_nothing():
    conversion = stated_conversion(None)
    assert conversion.dc_w(700.0) == 700.0 == conversion.dish_dc_w(700.0)


def sandia(dc_w: float) -> float:
    """The Sandia model (King et al., SAND2007-5036) with a published-style set."""
    parameters = {
        "Paco": 3000.0, "Pdco": 3200.0, "Vdco": 48.0, "Pso": 30.0,
        "C0": -8e-6, "C1": 0.0, "C2": 0.0, "C3": 0.0, "Pnt": 1.0,
    }  # fmt: skip
    return float(pvlib.inverter.sandia(48.0, dc_w, parameters))


def test_the_oracle_is_the_published_one():
    assert sandia(1500.0) == pytest.approx(1411.15919, abs=1e-4)


def days_of_metering(meter: ConversionMeter, lag_s: float = 0.0) -> list[float]:
    """Cook at many levels over a wandering bank-side background; return DC per AC."""
    rng = random.Random(4)
    dc_grid = np.linspace(31.0, 3190.0, 400)
    ac_grid = np.array([sandia(w) for w in dc_grid])
    taken = []
    for _ in range(300):
        ac_w = rng.choice([60.0, 60.0, 300.0, 800.0, 1500.0, 2200.0])
        dc_w = float(np.interp(ac_w, ac_grid, dc_grid))
        background_w = rng.uniform(20.0, 140.0)
        meter.observe(ac_w, dc_w + background_w, 300.0)
        taken.append((ac_w, dc_w))
    slope = np.polyfit([a for a, _ in taken], [d for _, d in taken], 1)[0]
    return [1.0 / float(slope)]


def test_the_conversion_is_measured_where_both_sides_are_metered():
    meter = ConversionMeter()
    expected = days_of_metering(meter)[0]
    found = meter.efficiency()
    assert found == pytest.approx(expected, abs=0.01)
    conversion = meter.conversion(Inverter(3000.0, 30.0, 0.80))
    assert conversion.measured
    assert conversion.dish_dc_w(1000.0) == pytest.approx(1000.0 / found)


def test_what_was_measured_survives_a_restart():
    meter, again = ConversionMeter(), ConversionMeter()
    days_of_metering(meter)
    meter.observe(500.0, 560.0, 120.0)
    again.restore(meter.snapshot())
    assert again.snapshot() == meter.snapshot()
    assert again.efficiency() == meter.efficiency()


def test_a_boat_that_never_cooks_keeps_the_stated_conversion():
    meter = ConversionMeter()
    for _ in range(500):
        meter.observe(60.0, 95.0, 300.0)
    assert meter.efficiency() is None
    assert not meter.conversion(Inverter(3000.0, 30.0, 0.88)).measured


def test_meters_that_contradict_physics_measure_nothing():
    meter = ConversionMeter()
    for power_w in [60.0, 1500.0] * 200:
        meter.observe(power_w, 0.6 * power_w + 50.0, 300.0)
    assert meter.efficiency() is None


def test_a_gap_starts_a_new_point():
    meter = ConversionMeter()
    meter.observe(1000.0, 1100.0, 200.0)
    meter.interrupt()
    meter.observe(60.0, 90.0, 200.0)
    assert meter.snapshot()["sums"][0] == 0.0
