"""What an answer was worth, beside rules of thumb and hindsight."""

from importlib import import_module
import sys

import pytest

from tests.core.plain_python import ROOT

RESERVE = 35.0


@pytest.fixture(scope="module")
def worth():
    sys.path.insert(0, str(ROOT / "script" / "benches"))
    yield import_module("worth")
    sys.path.remove(str(ROOT / "script" / "benches"))


@pytest.fixture(scope="module")
def outcome(worth):
    return import_module("afloat").Outcome


def question(worth, starts, *, hour=10.0, place=0, verdict="cook_now", low=40.0):
    """Return a question on 300 Wh at a bank of 70 Wh a point that ends at 80 %."""
    return worth.Question(
        "Kittiwake", 1, hour, 100, 300.0, verdict, place, starts, low, 80.0, RESERVE,
        70.0, [44.0 + i / 4 for i in range(len(starts))], 50.0, (36.0, 40.0), 0.95,
        False, 8.0,
    )  # fmt: skip


def courses(outcome, *, lowest=38.0, ends):
    return [outcome(0.0, lowest, 0.0, end) for end in ends]


def test_a_start_is_worth_what_the_bank_holds_a_day_later_less_the_waiting(
    worth, outcome
):
    asked = question(worth, courses(outcome, ends=[76.0, 76.0, 76.0, 76.0, 78.0]))
    assert asked.worth_wh(0) == pytest.approx(-4.0 * 70.0)
    assert asked.worth_wh(4) == pytest.approx(-2.0 * 70.0 - 8.0)
    assert asked.best == 4


def test_a_breach_counts_only_where_the_dish_causes_it(worth, outcome):
    low = courses(outcome, lowest=34.0, ends=[80.0])
    assert question(worth, low).worth_wh(0) == pytest.approx(-2 * 300.0)
    assert question(worth, low, low=34.5).worth_wh(0) == 0.0


def test_noon_is_waited_for_only_where_it_is_within_reach(worth, outcome):
    starts = courses(outcome, ends=[76.0] * 49)
    noon = worth.RULES["noon"]
    assert noon(question(worth, starts, hour=10.0)) == 8
    assert noon(question(worth, starts, hour=19.5)) == 0
    assert worth.RULES["reserve_and_a_tenth"](question(worth, starts)) == 4


def test_what_waits_promised_stands_beside_what_came(worth, outcome):
    starts = courses(outcome, ends=[76.0, 76.0, 77.0])
    ledger = worth.Ledger([question(worth, starts, place=2, verdict="wait")])
    waits = ledger.report()["waits"]
    assert waits["came_true_wh"] == pytest.approx(70.0)
    assert waits["promised_wh"] == 50.0
    assert waits["cost_more_than_now"] == 0.0


def test_boats_drawn_for_a_seed_are_the_same_again_and_differ_by_seed():
    fleet = import_module("fleet")
    assert fleet.drawn_hulls(3, 2) == fleet.drawn_hulls(3, 2)
    assert fleet.drawn_hulls(3, 2) != fleet.drawn_hulls(4, 2)
    assert {h.chemistry for h in fleet.drawn_hulls(1, 20)} >= {"lfp", "nmc"}
