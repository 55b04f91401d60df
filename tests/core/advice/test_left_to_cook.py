"""What may still be cooked before the sun of the next day covers the load."""

from dataclasses import replace

import pytest

from custom_components.galley_loads.core.advice import advice_to_mapping
from custom_components.galley_loads.core.advice.left_to_cook import left_to_cook
from custom_components.galley_loads.core.advice.starts import bank_model

from .sandpiper import STEW, ask, at_charge, sandpiper


def left(view):
    return left_to_cook(view, bank_model(view, True), view.last.at_s)


def test_what_is_left_lies_above_the_reserve_as_the_galley_gets_it():
    found = left(at_charge(sandpiper(18.0), 80.0))
    above_wh = (80.0 - 35.0) * 71.7 * 0.9
    assert 0.3 * above_wh < found.wh < found.wh_middle < found.wh_high < above_wh
    # At the bank, through an inverter of nine tenths, at some 12.8 V.
    assert found.ah == pytest.approx(found.wh / 0.9 / 12.8, rel=0.05)


def test_each_percent_more_in_the_bank_is_a_percent_more_to_cook():
    low, high = (left(at_charge(sandpiper(18.0), soc)) for soc in (70.0, 75.0))
    assert high.wh - low.wh == pytest.approx(5.0 * 71.7 * 0.9, rel=0.08)


def test_with_a_bank_at_its_reserve_nothing_is_left():
    found = left(at_charge(sandpiper(18.0), 36.0))
    assert (found.wh, found.ah) == (0.0, 0.0)


def test_it_is_looked_ahead_to_the_morning_after():
    view = at_charge(sandpiper(18.0), 80.0)
    found = left(view)
    # The sun is up at about half past six UTC.
    assert 11.0 < (found.until_s - view.last.at_s) / 3600.0 < 17.0


def test_a_usual_dinner_is_part_of_what_may_be_cooked():
    eaters, none = sandpiper(16.0), sandpiper(16.0, uses=())
    some = left(at_charge(eaters, 80.0))
    other = left(at_charge(replace(none, sky=eaters.sky), 80.0))
    assert some.wh == pytest.approx(other.wh, rel=0.1)


def test_it_stands_in_the_data_of_every_answer():
    answer = ask(at_charge(sandpiper(18.0), 80.0), STEW)
    data = advice_to_mapping(answer, ())
    assert data["left_wh"] == pytest.approx(answer.left.wh, abs=0.1)
    assert data["left_ah"] == pytest.approx(answer.left.ah, abs=0.01)
    assert data["left_wh"] <= data["left_wh_p50"] <= data["left_wh_p90"]
