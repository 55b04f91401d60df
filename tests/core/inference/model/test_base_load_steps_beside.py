"""The fridge does not wait for the hob: both may step at once."""

import pytest

from custom_components.galley_loads.core.inference.inference import Inference
from tests.core.inference.galley import BREAD_MAKER, HOB, START_S, Piece, boat, drawn

FRIDGE_W = 94.0
PULSES: list[Piece] = [(2, 900), (4, 0)] * 200


@pytest.mark.parametrize("into_s", [0.0, 2.0])
def test_a_fridge_that_starts_with_a_hobs_pulse_stays_the_fridge(into_s: float):
    """Between pulses of seconds there is hardly a reading in which only it steps."""
    hob_s = 7200.0
    fridge_s = hob_s + 6.0 * 60 + into_s
    usual = [(900.0 + 1800.0 * n, [(600, FRIDGE_W)]) for n in range(3)]
    samples = drawn(
        *usual, (hob_s, PULSES), (fridge_s, [(500, FRIDGE_W)]), until_s=9600.0
    )
    inference = Inference(boat(HOB, BREAD_MAKER))
    for sample in samples:
        inference.observe(sample)
        if sample.at_s > START_S + fridge_s + 60.0:
            last = inference.tentative()[-1]
            assert {a.appliance for a in last.activities} <= {"Hob"}
