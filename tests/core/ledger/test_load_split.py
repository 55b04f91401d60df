"""A load is shared among those who claim a part of it, and there is never more than it."""

from dataclasses import replace

from hypothesis import example, given, strategies as st
import pytest

from custom_components.galley_loads.core.boat.boat import Sensor
from custom_components.galley_loads.core.inference.model.activity import (
    Activity,
    Phase,
    Segment,
)
from custom_components.galley_loads.core.ledger.load_split import LoadSplit, split_load
from tests.core.boats import HEATER, HOB, KETTLE, OVEN, small_boat

METERED_KETTLE = replace(KETTLE, power_sensor=Sensor("sensor.kettle_plug"))
BOAT = small_boat(appliances=(HOB, OVEN, HEATER, METERED_KETTLE))


def _split(
    load_w: float,
    draws_w: dict[str, float],
    unnamed_w: float = 0.0,
    standby_w: dict[str, float] | None = None,
) -> LoadSplit:
    activities = tuple(
        Activity(name, 0.0, power_w, Phase.HEATING, 1.0)
        for name, power_w in draws_w.items()
    )
    segment = Segment(0.0, 60.0, activities, unnamed_w)
    return split_load(BOAT, load_w, segment, standby_w or {})


def _draws_w(load_w: float, **draws_w: float) -> dict[str, float]:
    return {name: w for (name, _), w in _split(load_w, draws_w).runs_w.items()}


watts = st.floats(0, 5000)


@given(
    load_w=watts,
    draws_w=st.dictionaries(st.sampled_from([a.name for a in BOAT.appliances]), watts),
    unnamed_w=watts,
    standby_w=st.dictionaries(st.sampled_from(["Hob", "Oven"]), watts),
)
@example(load_w=0.0, draws_w={"Hob": 0.1, "Oven": 0.2}, unnamed_w=0.0, standby_w={})
def test_the_parts_add_up_to_the_load_and_nobody_gets_more_than_is_claimed(
    load_w: float,
    draws_w: dict[str, float],
    unnamed_w: float,
    standby_w: dict[str, float],
) -> None:
    split = _split(load_w, draws_w, unnamed_w, standby_w)
    parts_w = (
        *split.runs_w.values(),
        split.unnamed_w,
        *split.standby_w.values(),
        split.background_w,
    )
    assert min(parts_w) >= 0.0
    assert sum(parts_w) == pytest.approx(load_w, rel=1e-9, abs=1e-6)
    for (name, _), power_w in split.runs_w.items():
        assert power_w <= draws_w[name] * (1 + 1e-9)
    for name, power_w in split.standby_w.items():
        assert power_w <= standby_w[name] * (1 + 1e-9)


def test_an_appliance_with_its_own_meter_keeps_what_that_says() -> None:
    draws_w = _draws_w(2100, Kettle=1990, Hob=1800)
    assert draws_w == {"Kettle": 1990, "Hob": pytest.approx(110)}


def test_one_appliance_goes_and_the_other_keeps_its_draw() -> None:
    """1433 W were claimed; at 620 W only the oven can have gone, at 950 W the hob may."""
    assert _draws_w(620, Hob=547, Oven=886) == {"Hob": 547, "Oven": pytest.approx(73)}
    assert _draws_w(950, Hob=547, Oven=886) == {"Hob": pytest.approx(64), "Oven": 886}


def test_where_one_that_goes_is_not_enough_another_has_gone_as_well() -> None:
    assert _draws_w(80, Hob=547, Oven=886) == {"Hob": pytest.approx(80), "Oven": 0}


def test_a_draw_that_only_drifted_switches_nothing_off() -> None:
    draws_w = _draws_w(1900, **{"Hob": 1800, "Water heater": 200})
    assert draws_w == {
        "Hob": pytest.approx(1710),
        "Water heater": pytest.approx(190),
    }
