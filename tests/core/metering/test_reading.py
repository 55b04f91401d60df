"""States are text; some of them are numbers, and some numbers cannot be."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.sensor_role import Role
from custom_components.galley_loads.core.metering.meter_limits import (
    LARGEST_VALUE,
    MeterLimits,
)
from custom_components.galley_loads.core.metering.reading import ABSENT_STATES
from custom_components.galley_loads.core.metering.source import Source

METER = Source("sensor.load", Role.AC_LOAD)


@given(st.floats(-LARGEST_VALUE, LARGEST_VALUE))
def test_a_number_is_read_as_it_was_written(value: float) -> None:
    assert METER.value_in(str(value)) == value


@pytest.mark.parametrize(
    "state",
    ["nan", "inf", "-Infinity", "1e999", "12 W", "12,5", "on", *sorted(ABSENT_STATES)],
)
def test_what_is_no_finite_number_is_none(state: str) -> None:
    assert METER.value_in(state) is None


def test_what_a_meter_cannot_show_is_none() -> None:
    gauge = Source("sensor.soc", Role.SOC, scale=100.0, limits=MeterLimits(0.0, 105.0))
    assert gauge.value_in("0.8") == 80.0
    assert gauge.value_in("80") is None
    assert gauge.value_in("-0.1") is None
