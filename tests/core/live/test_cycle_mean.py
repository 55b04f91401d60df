"""The mean of what pulses."""

import pytest

from custom_components.galley_loads.core.live.cycle_mean import CycleMean


def pulsing(cycles: int, *, cycle_s: float = 40.0) -> CycleMean:
    """A bath of 900 W that is on for a quarter of each cycle."""
    mean = CycleMean()
    for number in range(cycles):
        mean.observe(number * cycle_s, 900.0)
        mean.observe(number * cycle_s + cycle_s / 4.0, 0.0)
    return mean


def test_a_load_that_pulses_is_shown_at_its_mean() -> None:
    assert pulsing(5).mean_w(185.0) == pytest.approx(225.0)


def test_a_load_that_pulses_slowly_is_shown_as_it_draws() -> None:
    assert pulsing(5, cycle_s=300.0).mean_w(1250.0) is None


def test_a_pulse_that_does_not_come_ends_the_mean() -> None:
    assert pulsing(5).mean_w(160.0 + 100.0) is None


def test_two_looks_at_one_moment_are_one() -> None:
    """As two sensors that report together bring them."""
    mean = CycleMean()
    for power_w in (0.0, 900.0, 0.0, 900.0, 0.0, 900.0):
        mean.observe(10.0, power_w)
    assert mean.mean_w(10.0) is None
    assert mean.changes == [(10.0, 900.0)]
