"""The steps of the look ahead."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.advice.grid import Grid, spread_over_steps

from .sandpiper import AT_S


@given(st.floats(-5000, 100_000), st.floats(60, 20_000))
def test_a_use_fills_the_steps_that_it_touches(begin_s, length_s):
    grid = Grid(0.0, 96)
    parts = spread_over_steps(grid, begin_s, length_s)
    inside = max(min(begin_s + length_s, 86_400.0) - max(begin_s, 0.0), 0.0)
    assert sum(share for _, share in parts) * 900.0 == pytest.approx(inside, abs=1e-5)
    assert all(0.0 < share <= 1.0 + 1e-9 for _, share in parts)


def test_a_moment_belongs_to_the_first_step_at_or_after_it():
    grid = Grid(AT_S, 96)
    assert [grid.index(AT_S + s) for s in (-5.0, 0.0, 1.0, 900.0)] == [0, 0, 1, 1]
    # And a step starts at the moment that it belongs to.
    assert all(grid.index(grid.time_s(step)) == step for step in range(grid.steps))
