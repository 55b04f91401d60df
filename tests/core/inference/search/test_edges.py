"""What a meter shows of an edge shows when the step was; energy decides."""

import pytest

from custom_components.galley_loads.core.inference.model.hypothesis import Hypothesis
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from tests.core.inference.galley import BREAD_MAKER


def waiting(
    total_w: float, since_s: float, mean_w: float, until_s: float
) -> Hypothesis:
    """Return a hypothesis that takes what the meter showed lately for an edge."""
    energy_ws = mean_w * (until_s - since_s)
    return Hypothesis(0.0, total_w, total_w, (), None, (), 1, since_s, energy_ws)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_the_step_was_as_early_in_the_edge_as_the_mean_is_near_the_new_level(share):
    for old_w, new_w in ((60.0, 1560.0), (1560.0, 60.0)):
        mean_w = old_w + share * (new_w - old_w)
        edge = waiting(old_w, 100.0, mean_w, 110.0)
        assert edge.stepped_s(110.0, new_w) == pytest.approx(110.0 - 10.0 * share)


def test_an_overshoot_does_not_put_the_step_before_the_edge():
    assert waiting(60.0, 100.0, 2400.0, 110.0).stepped_s(110.0, 1560.0) == 100.0


def test_without_an_edge_the_step_was_when_it_showed():
    assert Hypothesis(0.0, 60.0, 60.0, (), None).stepped_s(110.0, 1560.0) == 110.0


def test_a_motor_and_its_pause_are_remembered_apart():
    machine = build_machine(0, BREAD_MAKER)
    by_name = {state.name: state for state in machine.states}
    assert by_name["stir"].slot == by_name["knead"].slot
    assert by_name["stir"].slot != by_name["still"].slot
    assert len({by_name[name].slot for name in ("still", "prove", "rest")}) == 1
