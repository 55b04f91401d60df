"""The bench's figures against scikit-learn's and a worked example done by hand.

The worked example is eight samples of 60 s of a kettle, an induction hob and a fridge,
computed with scikit-learn and numpy; estimated accuracy after Kolter and Johnson (SustKDD
2011) was re-done by hand: 1 - 3160 / 17800.
"""

from hypothesis import given, strategies as st
import numpy as np
import pytest
from sklearn.metrics import f1_score

from script.benches.metrics import (
    estimated_accuracy,
    f1,
    grid_counts,
    macro_f1,
    match_spans,
    merged,
    overlap,
    pooled_f1,
    running_time,
)
from script.benches.step_pairing import pair, steps

TRUTH = {
    "kettle": [0, 0, 2000, 2000, 0, 0, 0, 0],
    "induction": [0, 0, 0, 0, 1500, 1500, 1500, 0],
    "fridge": [80, 80, 80, 0, 0, 0, 80, 80],
}
GUESS = {
    "kettle": [0, 0, 2000, 1500, 500, 0, 0, 0],
    "induction": [0, 0, 0, 500, 1000, 1500, 1000, 500],
    "fridge": [80, 80, 80, 80, 0, 0, 0, 80],
}


@pytest.mark.parametrize(
    ("name", "score"), [("kettle", 0.8), ("induction", 0.75), ("fridge", 0.8)]
)
def test_the_worked_example_gives_its_f1(name, score):
    counts = grid_counts(TRUTH[name], GUESS[name], 10.0)
    assert f1(*counts) == pytest.approx(score)
    expected = f1_score(np.array(TRUTH[name]) > 10, np.array(GUESS[name]) > 10)
    assert f1(*counts) == pytest.approx(expected)


def test_the_worked_example_gives_its_estimated_accuracy():
    assert estimated_accuracy(TRUTH, GUESS) == pytest.approx(0.822472, abs=1e-6)
    assert estimated_accuracy(
        {"kettle": TRUTH["kettle"]}, {"kettle": GUESS["kettle"]}
    ) == pytest.approx(0.875)


@given(
    st.lists(st.tuples(st.booleans(), st.booleans()), min_size=1, max_size=60).filter(
        lambda rows: any(a or b for a, b in rows)
    )
)
def test_f1_is_that_of_scikit_learn(rows):
    truth = [100.0 * a for a, _ in rows]
    guess = [100.0 * b for _, b in rows]
    expected = f1_score([a for a, _ in rows], [b for _, b in rows], zero_division=0)
    assert f1(*grid_counts(truth, guess, 10.0)) == pytest.approx(expected)


@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(1, 9)), max_size=8),
    st.lists(st.tuples(st.integers(0, 50), st.integers(1, 9)), max_size=8),
)
def test_running_time_is_that_of_second_by_second_counting(true, said):
    truth = {"a": [(float(s), float(s + d)) for s, d in true]}
    guess = {"a": [(float(s), float(s + d)) for s, d in said]}
    on = np.zeros((2, 64), bool)
    for row, spans in enumerate((truth["a"], guess["a"])):
        for start, end in spans:
            on[row, int(start) : int(end)] = True
    hit, false, missed = running_time(truth, guess)["a"]
    assert hit == (on[0] & on[1]).sum()
    assert false == (~on[0] & on[1]).sum()
    assert missed == (on[0] & ~on[1]).sum()


def test_nothing_to_find_and_nothing_found_is_right():
    assert f1(0, 0, 0) == 1.0
    assert macro_f1([(0, 0, 0), (1, 0, 0)]) == 1.0
    assert pooled_f1([(1, 1, 0), (1, 0, 1)]) == pytest.approx(2 / 3)


def test_meals_are_matched_one_to_one():
    truth = [(0.0, 100.0), (200.0, 300.0)]
    guess = [(10.0, 100.0), (190.0, 290.0), (500.0, 600.0)]
    assert sorted(match_spans(truth, guess)) == [(0, 0), (1, 1)]
    assert overlap(merged([(0, 5), (4, 9)]), [(3, 20)]) == 6


def test_the_baseline_pairs_steps_as_published():
    """Levels of the step series in the field's tutorials: +2000 -2000 +1500 +80 -1500."""
    levels = [120.0] * 40 + [2120.0] * 30 + [120.0] * 50
    levels += [1620.0] * 60 + [1700.0] * 20 + [200.0] * 40
    changes = steps(enumerate(levels))
    assert [at for at, _ in changes] == [40, 70, 120, 180, 200]
    assert [step for _, step in changes] == pytest.approx(
        [2000, -2000, 1500, 80, -1500]
    )
    pairs = pair(changes, {"Kettle": 2000.0, "Oven": 1500.0})
    assert [(p.name, p.start_s, p.end_s) for p in pairs] == [
        ("Kettle", 40, 70),
        ("Oven", 120, 200),
    ]
