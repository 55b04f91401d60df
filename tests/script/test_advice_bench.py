"""The bench of the advice counts what it says it counts."""

from importlib import import_module
from itertools import pairwise
import sys

import pytest

from custom_components.galley_loads.core.advice import Advice, Verdict
from tests.core.plain_python import ROOT


@pytest.fixture(scope="module", autouse=True)
def _benches_at_hand():
    sys.path.insert(0, str(ROOT / "script" / "benches"))
    yield
    sys.path.remove(str(ROOT / "script" / "benches"))


@pytest.fixture(scope="module")
def bench():
    return import_module("advice")


@pytest.fixture(scope="module")
def afloat():
    return import_module("afloat")


@pytest.fixture(scope="module")
def voyage(afloat):
    return afloat.sail(afloat.hulls()[1], seed=3, days=6)


def answer(verdict: Verdict, start: int = 0) -> Advice:
    start_s = None if verdict is Verdict.HOLD_OFF else 900.0 * start
    return Advice(verdict, 0.0, "large", (), start_s=start_s)


def outcomes(afloat, *drawn_ah: float, lowest: float = 60.0):
    return [afloat.Outcome(ah, lowest, 0.0) for ah in drawn_ah]


def test_regret_skill_is_that_of_the_worked_example(bench, afloat, voyage):
    # A worked example of replay skill: regrets of 130 against 510 of always acting now
    # give 0.745098.
    score = bench.Score()
    starts = outcomes(afloat, 510.0, 130.0, 0.0)
    bench.judge(answer(Verdict.WAIT, 1), starts, voyage, 500, score)
    assert (score.regret_ah, score.regret_now_ah) == (130.0, 510.0)
    assert score.regret_skill == pytest.approx(0.745098, abs=1e-6)


def test_always_cooking_now_has_no_skill_and_hindsight_has_all(bench, afloat, voyage):
    now, best = bench.Score(), bench.Score()
    starts = outcomes(afloat, 40.0, 25.0, 30.0)
    bench.judge(answer(Verdict.COOK_NOW), starts, voyage, 500, now)
    bench.judge(answer(Verdict.WAIT, 1), starts, voyage, 500, best)
    assert now.regret_skill == 0.0
    assert best.regret_skill == 1.0


def test_a_breach_after_cook_now_is_counted_and_one_after_wait_is_not(
    bench, afloat, voyage
):
    score = bench.Score()
    low = outcomes(afloat, 40.0, 25.0, lowest=10.0)
    bench.judge(answer(Verdict.COOK_NOW), low, voyage, 500, score)
    bench.judge(answer(Verdict.WAIT, 1), low, voyage, 500, score)
    bench.judge(answer(Verdict.HOLD_OFF), low, voyage, 500, score)
    assert (score.cook_now, score.breaches) == (1, 1)
    assert (score.held_off, score.held_off_rightly) == (1, 1)


def test_scores_added_tell_what_one_score_of_all_tells(bench, afloat, voyage):
    one, other, both = (bench.Score() for _ in range(3))
    starts = outcomes(afloat, 40.0, 25.0)
    for score in (one, both):
        bench.judge(answer(Verdict.COOK_NOW), starts, voyage, 500, score)
    for score in (other, both):
        bench.judge(answer(Verdict.WAIT, 1), starts, voyage, 500, score)
    one.add(other)
    assert one.report() == both.report()


def test_cooking_lowers_the_bank_and_nothing_else(afloat, voyage):
    start = 2 * afloat.STEPS_PER_DAY + 96
    nothing = afloat.cook(voyage, start, 12, 0.0, afloat.STEPS_PER_DAY)
    feast = afloat.cook(voyage, start, 12, 900.0, afloat.STEPS_PER_DAY)
    assert nothing.drawn_ah == 0.0
    assert nothing.lowest == pytest.approx(
        min(voyage.soc[start - 1 : start + afloat.STEPS_PER_DAY])
    )
    assert feast.drawn_ah > 0.0
    assert feast.lowest < nothing.lowest
    assert feast.refused_wh <= nothing.refused_wh + 1e-6


def test_the_voyages_are_the_same_again_and_differ_by_seed(afloat, voyage):
    hull = afloat.hulls()[1]
    assert afloat.sail(hull, seed=3, days=6).soc == voyage.soc
    assert afloat.sail(hull, seed=4, days=6).soc != voyage.soc


def test_the_asks_are_at_the_boats_hours(bench, voyage):
    steps = bench.ask_steps(voyage, 3)
    assert len(steps) == 12
    assert all(later > before for before, later in pairwise(steps))
    hours = {
        bench.time_of_day(voyage, step, bench.ZoneInfo(voyage.hull.time_zone))
        for step in steps
    }
    assert hours == set(bench.ASK_HOURS)
