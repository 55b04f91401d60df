"""What duty cycle a regulator heats, and what that says of who it is."""

from itertools import pairwise
from math import log

import pytest
from scipy.stats import norm

from custom_components.galley_loads.core.inference.model.duty_cycle import (
    MOST,
    duty_cycle_law,
)
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from custom_components.galley_loads.core.kinds import catalogue
from custom_components.galley_loads.core.kinds.catalogue import KINDS
from tests.core.inference.galley import (
    BATH,
    HOB,
    KETTLE,
    OVEN,
    RICE,
    appliance,
    boat,
    drawn,
    names,
    reported,
)

HOTPLATE = appliance("Hotplate", catalogue.ELECTRIC_HOB, 1000)
PRESSURE_COOKER = appliance("Pressure cooker", catalogue.PRESSURE_COOKER, 1000)
GENTLE = duty_cycle_law((0.05, 0.35), (2.0, 40.0), (8.0, 150.0))


def logit(share: float) -> float:
    return log(share / (1.0 - share))


def test_the_range_of_a_duty_cycle_holds_eight_in_ten():
    law = duty_cycle_law((0.2, 0.8), (5.0, 50.0), (5.0, 50.0))
    known = norm(law.middle, law.sd)
    assert law.middle == pytest.approx(0.0, abs=1e-12)
    # A little is added for three cycles' own scatter.
    assert known.cdf(logit(0.8)) - known.cdf(logit(0.2)) == pytest.approx(0.8, abs=0.03)


def test_a_duty_cycle_is_weighed_against_what_the_dwells_would_give_by_themselves():
    for share in (0.1, 0.2, 0.35):
        ratio = logit(share)
        plain = norm(GENTLE.plain_middle, GENTLE.plain_sd).logpdf(ratio)
        known = norm(GENTLE.middle, GENTLE.sd).logpdf(ratio)
        assert GENTLE.cost(ratio) == pytest.approx(plain - known)


def test_the_further_from_its_kind_the_dearer_but_never_a_proof():
    costs = [GENTLE.cost(logit(share)) for share in (0.15, 0.4, 0.6, 0.8, 0.95, 0.999)]
    assert all(one <= two for one, two in pairwise(costs))
    assert costs[0] < 0 < costs[3]
    assert costs[-1] == MOST


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_duty_cycle_belongs_to_pulses_with_pauses_that_are_alike(kind):
    for state in kind.description.states.values():
        if state.duty_cycle is not None:
            low, high = state.duty_cycle
            assert 0.0 < low < high < 1.0
            assert state.alike
            assert any(
                kind.description.states[name].alike
                for name in state.follows
                if name in kind.description.states
            )


def test_a_machine_knows_the_pause_after_each_of_its_pulses():
    machine = build_machine(0, OVEN)
    rest = next(state for state in machine.states if state.name == "rest")
    assert {machine.states[number].name for number in rest.duty_cycles} == {
        "cycle",
        "element",
    }
    assert all(machine.states[number].alike >= 0 for number in rest.duty_cycles)
    assert not any(
        state.duty_cycles
        for state in build_machine(0, KETTLE).states
        if state.name == "boil"
    )


def pulsing(heat_s: float, pulse_s: float, pause_s: float) -> list[tuple[float, float]]:
    return [(heat_s, 1000.0), *[(pause_s, 2.0), (pulse_s, 1000.0)] * 40]


@pytest.mark.parametrize(
    ("pulse_s", "pause_s", "expected"),
    [(30.0, 12.0, "Hotplate"), (7.0, 55.0, "Pressure cooker")],
)
def test_a_plate_and_a_pot_of_one_power_are_told_apart_by_how_much_they_heat(
    pulse_s, pause_s, expected
):
    samples = drawn((600, pulsing(480.0, pulse_s, pause_s)), until_s=5000)
    galley = boat(HOTPLATE, PRESSURE_COOKER, RICE, BATH, HOB)
    assert names(reported(galley, samples)) == [expected]
