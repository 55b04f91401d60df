"""What a meter can resolve, and that nothing finer is quoted."""

from random import Random

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.galley_loads.core.standby import StandbyLearner
from custom_components.galley_loads.core.standby.meter_resolution import MeterResolution

from .resting_day import GALLEY_1, HOB, Day, boat_with


@pytest.mark.parametrize(("quantum_w", "noise_w"), [(10.0, 1.0), (1.0, 12.0)])
def test_what_the_meter_cannot_resolve_is_not_quoted(
    quantum_w: float, noise_w: float
) -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book, noise_w=noise_w, quantum_w=quantum_w)
    for _ in range(4):
        day.rest(600, 125.5)
        day.rest(600, 120, open_circuits=("Galley 1",))
    assert book.load_floor_w >= 9
    assert book.circuit_standby_w("Galley 1") is None
    assert book.standby_w("Hob") is None


def test_a_steady_meter_has_no_noise_and_a_noisy_one_has_its_own() -> None:
    steady, noisy = MeterResolution(), MeterResolution()
    random = Random(3)
    for _ in range(400):
        steady.observe(50.0)
        noisy.observe(50.0 + random.gauss(0, 5))
    assert steady.floor_w == 0
    assert noisy.noise_w == pytest.approx(5, rel=0.35)


@settings(max_examples=60, deadline=None)
@given(
    quantum_w=st.sampled_from([1.0, 2.0, 5.0, 10.0]),
    noise_w=st.floats(0.0, 8.0),
    true_w=st.floats(0.0, 40.0),
)
def test_nothing_learnt_is_ever_quoted_below_the_floor(
    quantum_w: float, noise_w: float, true_w: float
) -> None:
    book = StandbyLearner(boat_with(HOB, circuits=(GALLEY_1,)))
    day = Day(book, noise_w=noise_w, quantum_w=quantum_w)
    for _ in range(2):
        day.rest(120, 120 + true_w)
        day.rest(120, 120, open_circuits=("Galley 1",))
    figure = book.circuit_figure("Galley 1")
    # Of a meter without noise, every step that it can show is quoted.
    assert figure is not None or noise_w > 0.0 or true_w < quantum_w
    assert figure is None or figure.power_w >= figure.floor_w
