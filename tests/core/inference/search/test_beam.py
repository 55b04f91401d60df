"""The handful of hypotheses that are kept are kept apart."""

from custom_components.galley_loads.core.inference.model.hypothesis import (
    ActiveLoad,
    Hypothesis,
)
from custom_components.galley_loads.core.inference.search.beam import (
    SAME_PAST,
    _diverse,
)

NOW_S = 10_000.0


def running(index: int, start_s: float, power_w: float) -> ActiveLoad:
    return ActiveLoad(index, 0, power_w, start_s, start_s, (), (), (1.0, 1.0, 1.0))


def test_pulses_of_the_moment_do_not_crowd_out_another_view_of_the_last_hour():
    cooker, nobody = running(1, NOW_S - 3000, 730.0), running(-1, NOW_S - 3000, 730.0)
    many = [
        Hypothesis(
            0.01 * n,
            60.0,
            800.0,
            (nobody, running(2 + n % 9, NOW_S - 4, 90.0 * n)),
            None,
        )
        for n in range(40)
    ]
    other = Hypothesis(9.0, 60.0, 800.0, (cooker,), None)
    kept = _diverse([*many, other], NOW_S - 60.0)
    assert other in kept
    assert sum(nobody in e.loads for e in kept) == SAME_PAST


def test_the_best_comes_first_and_details_do_not_fill_the_places():
    base = running(1, NOW_S - 3000, 730.0)
    alike = [Hypothesis(0.1 * n, 60.0 + n, 790.0, (base,), None) for n in range(12)]
    kept = _diverse(alike, NOW_S - 60.0)
    assert kept[0] is alike[0]
    assert len(kept) == 3
