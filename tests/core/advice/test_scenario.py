"""How doubt is dealt out to the courses that the sun may take."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.advice.scenario import even_deviations


@given(st.integers(12, 28), st.integers(1, 40))
def test_doubt_is_dealt_evenly(count, stride):
    dealt = even_deviations(count, stride)
    assert len(set(dealt)) == count
    assert sum(dealt) == pytest.approx(0.0, abs=1e-9)
    variance = sum(z * z for z in dealt) / count
    assert 0.85 < variance < 1.0
