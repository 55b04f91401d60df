"""The range of a day's sum is drawn out or in until it holds."""

import json

import pytest

from custom_components.galley_loads.core.sky.like_days import dealt, likeness
from custom_components.galley_loads.core.sky.sum_spread import SumSpreadKeeper

WEIGHTS = dict.fromkeys(range(100, 110), 500.0)


def lived(keeper: SumSpreadKeeper, index: float, quarters=range(100, 110)):
    for quarter in quarters:
        keeper.observe(quarter, index)
    return keeper


def test_a_day_below_its_range_draws_the_lower_side_out():
    keeper = SumSpreadKeeper()
    before = keeper.spread
    keeper.issue(0, WEIGHTS, 0.5, 0.9)
    after = lived(keeper, 0.3).spread
    assert after.below[0] > before.below[0]
    assert after.above[0] < before.above[0]
    assert after.below[1] == before.below[1]


def test_one_day_in_ten_outside_leaves_the_range_as_it_is():
    keeper = SumSpreadKeeper()
    before = keeper.spread.below[1]
    for day in range(10):
        keeper.issue(1, WEIGHTS, 0.5, 0.9)
        lived(keeper, 0.3 if day == 4 else 0.7)
    assert keeper.spread.below[1] == pytest.approx(before)


def test_a_day_that_a_full_bank_hid_says_nothing():
    keeper = SumSpreadKeeper()
    before = keeper.spread
    keeper.issue(0, WEIGHTS, 0.5, 0.9)
    assert lived(keeper, 0.3, range(105, 112)).spread == before


def test_what_was_put_aside_is_kept_over_a_restart():
    keeper = SumSpreadKeeper()
    keeper.issue(0, WEIGHTS, 0.5, 0.9)
    lived(keeper, 0.3, range(100, 104))
    again = SumSpreadKeeper()
    again.restore(json.loads(json.dumps(keeper.snapshot())))
    for one in (keeper, again):
        lived(one, 0.3, range(104, 110))
    assert again.spread == keeper.spread


def test_days_like_today_are_followed_most_and_none_is_left_out():
    weights = [likeness(gap, gap) for gap in (0.0, 0.1, 0.3, 0.8)]
    assert weights == sorted(weights, reverse=True)
    assert weights[-1] > 0.0
    places = dealt(weights, 28)
    assert len(places) == 28
    assert places == sorted(places)
    assert places.count(0) > places.count(1) > places.count(3)
