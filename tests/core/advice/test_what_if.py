"""The last months of meals on another bank or array."""

from functools import cache

import pytest

from custom_components.galley_loads.core.advice.what_if import (
    Changes,
    NotEnoughPast,
    what_if,
)
from custom_components.galley_loads.core.outlook.outlook import Outlook
from custom_components.galley_loads.core.outlook.outlook_view import OutlookView
from custom_components.galley_loads.core.phrase import PhrasedError
from tests.core.outlook.outlook_rig import (
    DAY_S,
    Life,
    broken_clouds,
    cooking_boat,
    unix,
)
from tests.said import refused

START_S = unix("2026-05-01T00:00:00")


@cache
def lived() -> tuple[OutlookView, Life]:
    boat = cooking_boat()
    outlook = Outlook(boat)
    life = Life(boat, clear_sky_index=broken_clouds, background_w=55.0)
    life.live(outlook, START_S, 20)
    return outlook.view(), life


def test_the_past_on_the_boat_as_it_is_comes_out_as_it_was():
    view, life = lived()
    as_is = what_if(view, Changes()).as_is
    truly_below = {
        int(at_s // DAY_S) for at_s, soc in life.soc_by_time.items() if soc < 35.0
    }
    assert as_is.days in (20, 21)
    assert abs(as_is.days_below_reserve - len(truly_below)) <= 2
    assert as_is.meals == pytest.approx(40, abs=1)


def test_what_changes_nothing_is_the_same():
    both = what_if(lived()[0], Changes())
    assert both.changed == both.as_is


def test_a_larger_array_leaves_fewer_days_below_and_turns_more_away():
    both = what_if(lived()[0], Changes(array_power_w=1200.0))
    assert both.changed.days_below_reserve <= both.as_is.days_below_reserve
    assert both.changed.turned_away_wh > both.as_is.turned_away_wh
    assert both.changed.ah_per_meal < both.as_is.ah_per_meal


def test_half_an_array_leaves_the_bank_empty():
    both = what_if(lived()[0], Changes(array_power_w=200.0))
    assert both.changed.days_below_reserve > 5
    assert both.changed.lowest_soc == 0.0
    assert both.changed.short_wh > 0.0


def test_a_larger_bank_rides_through():
    small = what_if(lived()[0], Changes(capacity_ah=200.0)).changed
    large = what_if(lived()[0], Changes(capacity_ah=1200.0)).changed
    assert large.days_below_reserve <= small.days_below_reserve
    assert large.turned_away_wh <= small.turned_away_wh
    assert large.lowest_soc > small.lowest_soc


def test_another_reserve_only_moves_the_mark():
    both = what_if(lived()[0], Changes(reserve_soc=60.0))
    assert both.changed.days_below_reserve >= both.as_is.days_below_reserve
    assert both.changed.lowest_soc == both.as_is.lowest_soc


def test_only_the_last_days_asked_for_are_looked_at():
    assert what_if(lived()[0], Changes(), days=7).as_is.days in (7, 8)


def test_too_little_past_is_said():
    boat = cooking_boat()
    outlook = Outlook(boat)
    Life(boat).live(outlook, START_S, 1.5)
    with refused(NotEnoughPast, match="only 1 days"):
        what_if(outlook.view(), Changes(capacity_ah=800.0))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (Changes(capacity_ah=0.0), "capacity_ah: 0.0 is not above 0"),
        (Changes(array_power_w=-5.0), "array_power_w: -5.0 is not above 0"),
        (Changes(reserve_soc=100.0), "reserve_soc: 100.0"),
    ],
)
def test_nonsense_is_refused_by_name(changes, message):
    with refused(PhrasedError, match=message):
        what_if(lived()[0], changes)
