"""Kinds are descriptions: each is complete and makes sense."""

import pytest

from custom_components.galley_loads.core.boat.boat import Appliance
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.behaviour import OFF
from custom_components.galley_loads.core.kinds.catalogue import KINDS


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_is_described(kind):
    description = kind.description
    assert sum(description.starts.values()) == pytest.approx(1.0)
    assert set(description.starts) <= set(description.states)
    for state in description.states.values():
        assert sum(state.follows.values()) == pytest.approx(1.0)
        assert set(state.follows) <= {*description.states, OFF}
        assert 0.0 < state.dwell_s[0] < state.dwell_s[1]


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_can_start_and_come_to_an_end(kind):
    description = kind.description
    reached = set(description.starts)
    while True:
        more = {
            to
            for name in reached
            if name != OFF
            for to in description.states[name].follows
        }
        if more <= reached:
            break
        reached |= more
    assert OFF in reached
    assert reached - {OFF} == set(description.states)


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_machine_is_made_of_every_kind(kind):
    machine = build_machine(0, Appliance("It", kind, 1000.0))
    assert len(machine.states) == len(kind.description.states)
    assert all(0 <= state.slot < machine.slots for state in machine.states)


def test_only_water_to_wash_with_is_no_cooking():
    assert [kind for kind in KINDS if not kind.is_cooking] == [catalogue.WATER_HEATER]
    assert catalogue.WATER_HEATER.is_hot_water
    assert catalogue.KETTLE.is_hot_drink


def test_a_dish_takes_what_its_kind_typically_draws():
    assert catalogue.KETTLE.typical_energy_wh(2000, 3) == pytest.approx(100.0)
    oven = catalogue.OVEN.typical_energy_wh(1500, 40)
    assert 1500 * 40 / 60 * 0.3 < oven < 1500 * 40 / 60
    assert catalogue.INDUCTION_HOB.typical_power_share < 1.0
    assert catalogue.INDUCTION_HOB.default_standby_w > 0.0
