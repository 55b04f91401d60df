"""What is shown of a run that fell silent: nobody sees its end, so chances decide."""

import pytest

from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.model.activity import Segment
from custom_components.galley_loads.core.inference.model.dwell_time import (
    chance_to_go_on,
    dwell_law,
    with_dwell,
)
from custom_components.galley_loads.core.inference.model.hypothesis import (
    NO_DWELL,
    ActiveLoad,
)
from custom_components.galley_loads.core.inference.model.state_machine import (
    build_machine,
)
from custom_components.galley_loads.core.metering.load_sample import LoadSample

from .galley import COFFEE, HOB, START_S, Piece, boat, drawn, settled

KEEP_WARM: list[Piece] = [(240, 900), *[(60, 0), (6, 900)] * 12]
BREWED_S = 600.0
LAST_PULSE_S = BREWED_S + sum(seconds for seconds, _ in KEEP_WARM)


def pausing(dwells: int, age_s: float) -> float:
    """Return the chance that a coffee maker goes on after a pause of `age_s`.

    It has had `dwells` pauses of a minute before.
    """
    machine = build_machine(0, COFFEE)
    names = [state.name for state in machine.states]
    rest, keep = names.index("rest"), names.index("keep")
    state = machine.states[rest]
    own = (NO_DWELL,) * machine.alike
    for _ in range(dwells):
        own = with_dwell(own, state.alike, 60.0, keep)
    draws = (None,) * machine.slots
    load = ActiveLoad(
        0, rest, 0.0, 1000.0, 0.0, draws, own, dwell_law(state, own), False
    )
    return chance_to_go_on(load, state, 1000.0 + age_s)


def shown_after(seconds: float, samples: list[LoadSample]) -> Segment:
    """Return what is shown so many seconds after the last pulse of keeping warm."""
    inference = Inference(boat(COFFEE, HOB))
    until_s = START_S + LAST_PULSE_S + seconds
    for sample in samples:
        if sample.at_s > until_s:
            break
        inference.observe(sample)
    assert "Coffee maker" in inference.running
    return inference.tentative()[-1]


@pytest.fixture(scope="module")
def kept_warm() -> list[LoadSample]:
    return drawn((BREWED_S, KEEP_WARM), until_s=LAST_PULSE_S + 3000.0)


def test_a_pause_as_long_as_the_others_is_a_pause():
    assert pausing(8, 60.0) > 0.9


def test_the_longer_the_silence_the_less_it_is_a_pause():
    chances = [pausing(8, age_s) for age_s in (1.0, 60.0, 120.0, 240.0, 480.0, 960.0)]
    assert chances == sorted(chances, reverse=True)
    assert chances[-1] < 0.5


def test_a_run_whose_own_pauses_are_short_is_over_sooner():
    assert pausing(8, 300.0) < pausing(0, 300.0)


def test_a_coffee_maker_between_two_pulses_is_shown_running(kept_warm):
    segment = shown_after(40.0, kept_warm)
    assert [a.appliance for a in segment.activities] == ["Coffee maker"]


def test_a_coffee_maker_silent_for_many_pauses_is_shown_as_over(kept_warm):
    """Though it counts as one that may go on for as long as that is not ruled out."""
    assert shown_after(480.0, kept_warm).activities == ()


def test_one_that_pulses_again_after_all_goes_on_as_the_same_run():
    samples = drawn(
        (BREWED_S, [*KEEP_WARM, (500, 0), (6, 900), (60, 0), (6, 900)]),
        until_s=LAST_PULSE_S + 3000.0,
    )
    assert shown_after(480.0, samples).activities == ()
    runs = {
        a.run_start_s
        for segment in settled(Inference(boat(COFFEE, HOB)), samples)
        for a in segment.activities
    }
    assert len(runs) == 1


def test_a_run_that_draws_is_shown_however_long_it_lasts():
    machine = build_machine(0, HOB)
    state = machine.states[0]
    load = ActiveLoad(
        0, 0, 900.0, 0.0, 0.0, (None,) * machine.slots, (), dwell_law(state, ()), False
    )
    assert chance_to_go_on(load, state, 1e6) == 1.0
