"""The reasons of an answer, as the crew reads them."""

import pytest

from custom_components.galley_loads.core.advice.limits import LimitKind, Overload
from custom_components.galley_loads.core.advice.reasons import (
    cost_reason,
    overload_reason,
)
from custom_components.galley_loads.core.meals.dish_cost import CostSource, DishCost
from tests.said import said


@pytest.mark.parametrize(
    ("kind", "name", "sentence"),
    [
        (LimitKind.INVERTER, "", "320 W at once is more than the inverter's 250 W"),
        (LimitKind.BANK, "", "320 A is more than the bank may give, 250 A"),
        (LimitKind.BREAKER, "Galley 1", "more than the breaker of Galley 1 carries"),
    ],
)
def test_two_that_are_too_much_together_may_go_one_after_the_other(
    kind: LimitKind, name: str, sentence: str
) -> None:
    together = Overload(kind, name, 320.0, 250.0, alone=False)
    alone = Overload(kind, name, 320.0, 250.0, alone=True)
    in_turn = "one after the other it goes"
    assert sentence in said(overload_reason(together, several=True))
    assert in_turn in said(overload_reason(together, several=True))
    assert sentence in said(overload_reason(alone, several=True))
    assert in_turn not in said(overload_reason(alone, several=True))
    assert in_turn not in said(overload_reason(together, several=False))


@pytest.mark.parametrize("source", CostSource)
def test_what_a_dish_takes_is_said_with_how_that_is_known(source: CostSource) -> None:
    cost = DishCost(420.0, 40.0, 25.0, 1800.0, ("Hob",), source, times=4)
    sentence = said(cost_reason("Fish stew", cost, 35.0))
    assert "Fish stew" in sentence
    assert "420 Wh" in sentence
    assert ("4" in sentence.replace("420", "")) == (source is CostSource.PAST_MEALS)
