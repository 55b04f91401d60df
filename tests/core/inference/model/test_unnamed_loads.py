"""How often loads that nobody named run is learnt from the boat."""

import pytest

from custom_components.galley_loads.core.inference.model.hypothesis import (
    UNNAMED,
    ActiveLoad,
    PastStep,
)
from custom_components.galley_loads.core.inference.model.unnamed_loads import (
    UnnamedRate,
)

DAY_S = 86400.0


def day(number: int, runs: int) -> list[PastStep]:
    """Return a day in which that many unnamed loads ran, two moments each."""
    past_steps: list[PastStep] = []
    start = number * DAY_S
    for run in range(runs):
        at = start + 3600.0 * run
        load = ActiveLoad(UNNAMED, 0, 500.0, at, at, (), (), (1.0, 1.0, 1.0))
        past_steps.extend(
            PastStep(
                None, at + 60 * half, at + 60 * half + 60, 560.0, 60.0, (load,), False
            )
            for half in range(2)
        )
    past_steps.append(
        PastStep(None, start + 3600.0 * runs, start + DAY_S, 60.0, 60.0, (), False)
    )
    return past_steps


def test_a_new_boat_is_expected_to_have_some():
    assert UnnamedRate().per_s * DAY_S == pytest.approx(1.5)


def test_a_boat_without_any_expects_ever_fewer():
    rate = UnnamedRate()
    rates = []
    for number in range(6):
        rate.add(day(number, 0))
        rates.append(rate.per_s * DAY_S)
    assert rates == sorted(rates, reverse=True)
    assert rates[-1] == pytest.approx(3.0 / 8.0)


def test_each_run_counts_once_however_many_pieces_it_has():
    rate = UnnamedRate()
    for number in range(10):
        rate.add(day(number, 2))
    assert rate.per_s * DAY_S == pytest.approx(23.0 / 12.0, rel=0.1)


def test_what_was_long_ago_fades():
    rate = UnnamedRate()
    for number in range(20):
        rate.add(day(number, 8))
    assert rate.per_s * DAY_S > 6.0
    for number in range(20, 60):
        rate.add(day(number, 0))
    assert rate.per_s * DAY_S < 1.5


def test_a_restart_changes_nothing():
    rate = UnnamedRate()
    rate.add(day(0, 3))
    other = UnnamedRate()
    other.restore(rate.snapshot())
    rate.add(day(1, 3))
    other.add(day(1, 3))
    assert other.per_s == rate.per_s
