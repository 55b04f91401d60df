"""Loads that recur unassigned are found and described."""

from datetime import UTC, datetime
import json

from custom_components.galley_loads.core.inference.learning.recurring_loads import (
    Discovery,
)
from custom_components.galley_loads.core.inference.model.activity import Segment
from tests.said import said

DAY_S = 86400.0
FIRST_S = datetime(2026, 5, 11, tzinfo=UTC).timestamp()


def fed(*occurrences: tuple[float, float, float]) -> Discovery:
    """Return a discovery that saw loads: (start s, length s, W)."""
    discovery = Discovery()
    for start, seconds, power in sorted(occurrences):
        at_s = FIRST_S + start
        discovery.add(Segment(at_s, at_s + seconds / 2, (), power * 1.01))
        discovery.add(Segment(at_s + seconds / 2, at_s + seconds, (), power * 0.99))
        discovery.add(Segment(at_s + seconds, at_s + seconds + 60.0))
    return discovery


def test_what_comes_on_nine_mornings_is_reported():
    mornings = [(n * DAY_S + 7.5 * 3600, 180.0, 1180.0 + n) for n in range(9)]
    loads = fed(*mornings).found(UTC)
    assert len(loads) == 1
    assert loads[0].days == 9
    assert loads[0].part_of_day == "morning"
    assert said(loads[0].describe()) == "about 1,180 W for 3 minutes, on 9 mornings"


def test_what_came_once_is_not_worth_reporting():
    assert fed((8 * 3600.0, 600.0, 640.0)).found(UTC) == ()


def test_two_loads_of_different_power_stay_two():
    first = [(n * DAY_S + 8 * 3600, 300.0, 640.0) for n in range(4)]
    second = [(n * DAY_S + 20 * 3600, 3600.0, 150.0) for n in range(5)]
    loads = fed(*first, *second).found(UTC)
    assert [round(load.power_w, -1) for load in loads] == [150, 640]
    assert loads[0].part_of_day == "evening"
    assert "60 minutes" in said(loads[0].describe())


def test_a_load_at_all_hours_has_no_part_of_the_day():
    hours = (3, 9, 14, 20, 8)
    loads = fed(*[(n * DAY_S + h * 3600, 40.0, 900.0) for n, h in enumerate(hours)])
    assert (
        said(loads.found(UTC)[0].describe()) == "about 900 W for 40 seconds, on 5 days"
    )


def test_discovery_goes_on_after_a_restart_and_stays_small():
    discovery = fed(*[(n * 3600.0, 60.0, 500.0) for n in range(600)])
    state = json.loads(json.dumps(discovery.snapshot()))
    twin = Discovery()
    twin.restore(state)
    assert twin.found(UTC) == discovery.found(UTC)
    assert len(state["occurrences"]) == 400
