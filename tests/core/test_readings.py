"""States are text; some of them are numbers."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.readings import ABSENT_STATES, number_in


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_read_as_it_was_written(value: float) -> None:
    assert number_in(str(value)) == value


@pytest.mark.parametrize(
    "state",
    ["nan", "inf", "-Infinity", "1e999", "12 W", "12,5", "on", *sorted(ABSENT_STATES)],
)
def test_what_is_no_finite_number_is_none(state: str) -> None:
    assert number_in(state) is None
