"""The three meanings of a solar share, and which is ours."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.advice.bank_path import (
    bank_model_of,
    follow,
    with_dish,
)
from custom_components.galley_loads.core.bank.bank_meter import stated_point_energy
from custom_components.galley_loads.core.boat.boat import Bank
from custom_components.galley_loads.core.ledger.account import origin
from custom_components.galley_loads.core.ledger.cells import Cell


def coincident_share(source_w: float, cooking_dc_w: float, other_dc_w: float) -> float:
    """The sun's part when every load shares each source in proportion."""
    demand_w = cooking_dc_w + other_dc_w
    return min(source_w / demand_w, 1.0) if demand_w > 0.0 else 0.0


def marginal_share(source_w: float, cooking_dc_w: float, other_dc_w: float) -> float:
    """The sun's part of the cooking when all other draw is served first."""
    return min(max(source_w - other_dc_w, 0.0) / cooking_dc_w, 1.0)


def cooking_first_share(source_w: float, cooking_dc_w: float) -> float:
    """The sun's part of the cooking when the cooking is served first."""
    return min(source_w / cooking_dc_w, 1.0)


# 500 W of sun, 60 W of other draw, 1800 W AC at 0.9: three honest answers for one moment
# (check calculation, no single source): 0.242718, 0.220, 0.250.
SUN_W, BASE_W, COOK_W = 500.0, 60.0, 1800.0 / 0.9


def test_three_meanings_give_three_numbers():
    assert coincident_share(SUN_W, COOK_W, BASE_W) == pytest.approx(0.242718, abs=1e-6)
    assert marginal_share(SUN_W, COOK_W, BASE_W) == pytest.approx(0.220)
    assert cooking_first_share(SUN_W, COOK_W) == pytest.approx(0.250)


def test_the_ledger_counts_the_sun_that_shines_while_the_galley_draws():
    # The ledger's account of the same moment, bank metered, per second.
    cell = Cell(
        0.0,
        1.0,
        COOK_W * 0.9 + BASE_W * 0.9,
        solar_ws=SUN_W,
        solar_s=1.0,
        battery_ws=SUN_W - COOK_W - BASE_W,
        discharge_ws=COOK_W + BASE_W - SUN_W,
        battery_s=1.0,
    )
    from_sun, from_bank = origin(cell, 0.9)
    assert from_sun == pytest.approx(coincident_share(SUN_W, COOK_W, BASE_W))
    assert from_bank == pytest.approx(1.0 - from_sun)


def test_advice_counts_the_sun_as_the_ledger_does():
    bank = Bank(200.0, 12.8, 25.0)
    model = bank_model_of(bank, stated_point_energy(bank), 12.8, True, 0.25)
    sun_w, base_w = [SUN_W] * 2, [BASE_W] * 2
    path = follow(model, 60.0, sun_w, base_w)
    effect = with_dish(model, path, sun_w, sun_w, base_w, 0, [COOK_W], 2)
    share = effect.solar_wh / (effect.solar_wh + effect.drawn_wh)
    assert share == pytest.approx(coincident_share(SUN_W, COOK_W, BASE_W))


@given(st.floats(0, 3000), st.floats(1, 3000), st.floats(0, 500))
def test_the_coincident_share_lies_between_the_other_two(sun_w, cook_w, base_w):
    low = marginal_share(sun_w, cook_w, base_w)
    high = cooking_first_share(sun_w, cook_w)
    assert low - 1e-9 <= coincident_share(sun_w, cook_w, base_w) <= high + 1e-9
