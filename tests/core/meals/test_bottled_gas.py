"""Propane instead of electricity, against heats of combustion."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.meals.bottled_gas import propane_g


# Propane's lower heating value 46.35 MJ/kg (published table, kadatec.cz).
@pytest.mark.parametrize(
    ("gas_efficiency", "grams"), [(0.55, 36.0106), (0.40, 49.5146), (0.32, 61.8932)]
)
def test_a_meal_of_300_wh_in_propane(gas_efficiency, grams):
    assert propane_g(300.0, gas_efficiency, 0.85) == pytest.approx(grams, abs=1e-3)


def test_the_defaults_are_those_of_the_sources():
    assert propane_g(300.0) == pytest.approx(36.0106, abs=1e-3)


def test_the_heating_value_agrees_with_formation_enthalpies():
    # 46.334 MJ/kg from formation enthalpies: 1 kg holds 12.87 kWh.
    assert propane_g(12_870.6, 1.0, 1.0) == pytest.approx(1000.0, rel=1e-3)


@given(st.floats(1, 5000), st.floats(0.3, 0.65))
def test_a_better_burner_needs_less_gas(energy_wh, efficiency):
    assert propane_g(energy_wh, efficiency + 0.05) < propane_g(energy_wh, efficiency)


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.2])
def test_an_efficiency_outside_its_range_is_refused(efficiency):
    with pytest.raises(ValueError, match="gas_efficiency"):
        propane_g(300.0, efficiency)
    with pytest.raises(ValueError, match="electric_efficiency"):
        propane_g(300.0, 0.5, efficiency)
