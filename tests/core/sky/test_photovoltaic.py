"""What an array makes of irradiance, against published chains and a reference library."""

from hypothesis import given, strategies as st
import pvlib
import pytest

from custom_components.galley_loads.core.sky.photovoltaic import (
    SYSTEM_LOSSES,
    array_power_w,
    cell_temperature_c,
    system_loss_share,
    typical_yield,
)


def test_a_cell_at_its_nominal_conditions_has_its_nominal_temperature():
    # NOCT rule: 25 degrees air, 800 W/m2, NOCT 45 gives 50.00.
    assert cell_temperature_c(25.0, 800.0, 45.0) == pytest.approx(50.0)
    assert cell_temperature_c(20.0, 800.0, 47.0) == pytest.approx(47.0)


def test_the_nominal_rule_is_near_the_other_models_for_a_free_panel():
    # Faiman (pvlib defaults) at 800 W/m2, 25 degrees, 1 m/s: 50.1256.
    faiman = pvlib.temperature.faiman(800, 25, 1)
    assert faiman == pytest.approx(50.1256, abs=1e-4)
    assert cell_temperature_c(25.0, 800.0, 45.0) == pytest.approx(faiman, abs=1.0)


@pytest.mark.parametrize(
    ("power", "irradiance", "cell_c", "coefficient", "expected"),
    [(400, 800, 50, -0.0035, 292.0), (400, 1000, 45, -0.004, 368.0)],
)
def test_the_array_loses_power_with_heat(
    power, irradiance, cell_c, coefficient, expected
):
    found = array_power_w(power, irradiance, cell_c, coefficient)
    assert found == pytest.approx(expected, abs=1e-9)


@given(st.floats(10, 2000), st.floats(1, 1200), st.floats(-10, 80))
def test_the_array_agrees_with_the_reference_library(power, irradiance, cell_c):
    reference = pvlib.pvsystem.pvwatts_dc(irradiance, cell_c, power, -0.0037)
    found = array_power_w(power, irradiance, cell_c, -0.0037)
    assert found == pytest.approx(reference, rel=1e-9)


def test_the_default_losses_multiply_to_those_of_the_manual():
    # PVWatts Version 5 Manual: 14.0757 %.
    assert system_loss_share() * 100.0 == pytest.approx(14.0757, abs=1e-4)
    assert system_loss_share(SYSTEM_LOSSES) * 100.0 == pytest.approx(
        pvlib.pvsystem.pvwatts_losses(), abs=1e-9
    )


def test_heat_and_losses_take_a_flat_array_to_its_worked_power():
    # 800 W flat, 888.2713 W/m2, 28 degrees air, NOCT 45, -0.0035: 55.7585 degrees,
    # 634.116 W, after losses 544.860 W.
    cell_c = cell_temperature_c(28.0, 888.2713, 45.0)
    assert cell_c == pytest.approx(55.7585, abs=1e-4)
    power = array_power_w(800.0, 888.2713, cell_c, -0.0035)
    assert power == pytest.approx(634.116, abs=1e-3)
    assert power * (1.0 - system_loss_share()) == pytest.approx(544.860, abs=1e-3)


def test_a_new_boat_expects_four_fifths_of_the_plate():
    assert 0.7 < typical_yield() < 0.86
