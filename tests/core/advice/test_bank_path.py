"""The bank's course with a dish: a published-style oracle, and the exactness of a shortcut."""

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.advice.bank_path import (
    bank_model_of,
    follow,
    with_dish,
)
from custom_components.galley_loads.core.bank.bank_meter import PointEnergy
from custom_components.galley_loads.core.boat.boat import Bank, Chemistry

# The oracle: 2560 Wh, quarter hours, sun 400 to 0 W, base 60 W, a dish of 1800 W AC for
# two steps through an inverter of 0.90, 0.98 each way in and out of the bank.
SUN_W = [400.0, 500.0, 600.0, 600.0, 500.0, 300.0, 100.0, 0.0]
BASE_W = [60.0] * 8
DISH_W = [1800.0 / 0.90] * 2
BANK = Bank(200.0, 12.8, 25.0)
POINT = PointEnergy(25.6 * 0.98, 25.6 / 0.98)
MODEL = bank_model_of(BANK, POINT, 12.8, takes_charge=True, step_h=0.25)


def cooked(start: int, soc: float = 55.0):
    path = follow(MODEL, soc, SUN_W, BASE_W)
    return with_dish(MODEL, path, SUN_W, SUN_W, BASE_W, start, DISH_W, 8)


def full_course(start: int, soc: float) -> tuple[list[float], float]:
    demand_w = list(BASE_W)
    for i, power_w in enumerate(DISH_W, start):
        demand_w[i] += power_w
    path = follow(MODEL, soc, SUN_W, demand_w)
    return path.soc, path.refused[-1] * POINT.charge_wh


@pytest.mark.parametrize(
    ("start", "lowest", "end"),
    [(0, 22.9129, 39.5416), (2, 33.3673, 39.6600), (6, 39.2496, 39.2496)],
)
def test_the_course_of_charge_is_the_oracles(start, lowest, end):
    course, _ = full_course(start, 55.0)
    assert course[-1] == pytest.approx(end, abs=1e-4)
    assert min(course) == pytest.approx(lowest, abs=1e-4)
    assert cooked(start).lowest == pytest.approx(lowest, abs=1e-4)


@pytest.mark.parametrize(
    ("start", "from_bank_wh"), [(0, 820.0), (2, 745.0), (6, 1005.0)]
)
def test_what_the_whole_load_takes_from_the_bank_is_the_oracles(start, from_bank_wh):
    demand_w = list(BASE_W)
    for i, power_w in enumerate(DISH_W, start):
        demand_w[i] += power_w
    lacking = [max(d - s, 0.0) * 0.25 for d, s in zip(demand_w, SUN_W, strict=True)]
    assert sum(lacking) == pytest.approx(from_bank_wh)
    # The dish's own part, every load sharing the sources in proportion.
    in_dish = sum(lacking[start : start + 2])
    assert cooked(start).drawn_wh == pytest.approx(in_dish * 2000 / 2060)


def test_cooking_now_is_refused_and_half_an_hour_later_accepted():
    # With a floor of 25 %.
    assert cooked(0).lowest < BANK.reserve_soc
    assert cooked(2).lowest > BANK.reserve_soc


def test_a_nearly_full_bank_says_cook_now():
    # From 97 %: now ends at 81.5416 % and turns nothing away; 90 minutes later ends at
    # 59.9410 % and has turned away 556.633 Wh.
    now, refused_now = full_course(0, 97.0)
    later, refused_later = full_course(6, 97.0)
    assert now[-1] == pytest.approx(81.5416, abs=1e-4)
    assert refused_now == 0.0
    assert later[-1] == pytest.approx(59.9410, abs=1e-4)
    assert refused_later == pytest.approx(556.633, abs=1e-3)
    assert cooked(0, 97.0).refused_wh == 0.0
    assert cooked(6, 97.0).refused_wh == pytest.approx(556.633, abs=1e-3)


def test_waiting_at_a_full_bank_does_not_use_what_is_turned_away_meanwhile():
    starts = [cooked(start, 100.0).refused_wh for start in range(6)]
    assert starts == sorted(starts)
    assert starts[0] < starts[-1]


def test_the_oracles_energy_balance_closes():
    # 0.55 x 2560 - 820 / 0.98 + 450 x 0.98 = 1012.27 Wh = 39.54 %.
    assert (
        pytest.approx(full_course(0, 55.0)[0][-1] * 25.6, abs=1e-6)
        == 1408.0 - 820.0 / 0.98 + 450.0 * 0.98
    )


powers = st.lists(st.floats(0, 900), min_size=30, max_size=30)


@given(
    powers,
    powers,
    st.floats(20, 100),
    st.integers(0, 20),
    st.lists(st.floats(0, 2500), min_size=1, max_size=8),
)
def test_the_shortcut_is_exact(sun_w, demand_w, soc, start, dish_w):
    path = follow(MODEL, soc, sun_w, demand_w)
    effect = with_dish(MODEL, path, sun_w, sun_w, demand_w, start, dish_w, 30)
    full_w = list(demand_w)
    for i, power_w in enumerate(dish_w, start):
        full_w[i] += power_w
    whole = follow(MODEL, soc, sun_w, full_w)
    assert effect.lowest == pytest.approx(min(whole.soc[start:]), abs=1e-6)
    refused = whole.refused[-1] * POINT.charge_wh
    assert effect.refused_wh == pytest.approx(refused, abs=1e-5)


@given(powers, powers, st.floats(20, 100), st.integers(0, 25))
def test_a_dish_takes_from_bank_and_sun_what_it_needs(sun_w, demand_w, soc, start):
    path = follow(MODEL, soc, sun_w, demand_w)
    effect = with_dish(MODEL, path, sun_w, sun_w, demand_w, start, [800.0, 400.0], 30)
    assert effect.drawn_wh + effect.solar_wh == pytest.approx(300.0)


def test_a_frozen_bank_takes_nothing_in():
    frozen = bank_model_of(BANK, POINT, 12.8, takes_charge=False, step_h=0.25)
    path = follow(frozen, 55.0, SUN_W, BASE_W)
    assert max(path.soc) == 55.0
    assert path.soc[-1] < 55.0


def test_a_strong_current_costs_a_lead_bank_more():
    lead = Bank(200.0, 12.0, 50.0, Chemistry.FLOODED, peukert_exponent=1.25)
    model = bank_model_of(lead, POINT, 12.0, takes_charge=True, step_h=0.25)
    # 100 A are ten times the rated 10 A: (10)^0.25 = 1.7783 times as much.
    assert model.discharge_points(1200.0) == pytest.approx(
        MODEL.discharge_points(1200.0) * 10.0**0.25
    )
    assert model.discharge_points(60.0) == MODEL.discharge_points(60.0)
