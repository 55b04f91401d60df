"""Rated powers are learnt closer from use, and a wrong run does not poison them."""

from itertools import chain

import pytest

from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.learning.learned_power import (
    PowerBelief,
)
from custom_components.galley_loads.core.inference.learning.signature import Signature
from custom_components.galley_loads.core.inference.model.base_load import BaseLoad
from tests.core.inference.galley import (
    HOB,
    KETTLE,
    START_S,
    boat,
    drawn,
    names,
    runs_of,
    settled,
)


def test_a_rating_wrong_by_a_tenth_is_learnt_closer():
    inference = Inference(boat(KETTLE))
    boils = [(900 + 1800 * n, [(170.0, 1830.0)]) for n in range(5)]
    settled(inference, drawn(*boils, until_s=12000))
    learned = inference.learned["Kettle"]
    assert learned.rated_w == pytest.approx(1830, rel=0.01)
    assert learned.runs >= 3


def test_a_wrong_run_does_not_move_what_many_agree_on():
    belief = PowerBelief(2000.0)
    for power in (1835.0, 1828.0, 1831.0, 1840.0, 2150.0, 1833.0):
        belief.add(power)
    assert belief.power_w == pytest.approx(1833, abs=10)


def test_a_run_far_from_the_rating_teaches_nothing():
    belief = PowerBelief(2000.0)
    belief.add(1200.0)
    assert belief.runs == 0
    assert belief.power_w == 2000.0


def test_the_rating_is_never_wholly_given_up():
    belief = PowerBelief(2000.0)
    for _ in range(40):
        belief.add(1830.0)
    assert len(belief.modes) == 2
    assert belief.modes[1][0] == 2000.0


def test_a_signature_goes_before_what_use_taught_until_it_is_forgotten():
    inference = Inference(boat(KETTLE, HOB))
    taken = Signature("Kettle", START_S, 1832.0, 170.0, 86.5, ((1832.0, 170.0),))
    inference.remember(taken)
    assert inference.learned["Kettle"].rated_w == 1832.0
    assert inference.signatures["Kettle"] == taken
    twin = Inference(boat(KETTLE, HOB))
    twin.restore(inference.snapshot())
    assert twin.learned["Kettle"].rated_w == 1832.0
    inference.forget("Kettle")
    assert inference.learned["Kettle"].rated_w == 2000.0
    assert not inference.signatures
    with pytest.raises(KeyError):
        inference.forget("Samovar")


def test_the_base_load_is_never_below_the_quietest_hours():
    base_load = BaseLoad()
    for _ in range(2000):
        base_load.add(90.0, 90.0, 60.0, idle=True)
        base_load.add(170.0, 170.0, 30.0, idle=True)
        base_load.add(1900.0, 90.0, 5.0, idle=False)
    base_load.settle()
    assert base_load.excess(120.0) == 0.0
    assert base_load.excess(20.0) > 1.0
    assert base_load.excess(600.0) > 1.0
    twin = BaseLoad()
    twin.restore(base_load.snapshot())
    assert twin.snapshot() == base_load.snapshot()


def test_confidence_is_low_where_two_appliances_fit_alike():
    twin = KETTLE.__class__("Second kettle", KETTLE.kind, 2000)
    alone = runs_of(settled(Inference(boat(KETTLE)), drawn((600, [(180.0, 1990.0)]))))
    either = runs_of(
        settled(Inference(boat(KETTLE, twin)), drawn((600, [(180.0, 1990.0)])))
    )
    assert names(alone) == ["Kettle"]
    assert alone[0].confidence > 0.9
    assert max(run.confidence for run in either) < 0.7


def test_sixty_days_of_boils_keep_the_state_small():
    belief = PowerBelief(2000.0)
    for power in chain.from_iterable([[1830.0, 1840.0]] * 200):
        belief.add(power)
    assert len(belief.snapshot()) <= 40
