"""Levels that a knob comes back to: seen before, they are likelier than any other."""

import json
from math import exp

import pytest
from scipy.integrate import quad

from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.inference.learning.known_levels import (
    FRESH_LEVELS,
    MOST_LEVELS,
    MOST_SEEN,
    NEAR_SHARE,
    KnownLevels,
)
from tests.core.inference.galley import (
    HOB,
    KETTLE,
    Piece,
    boat,
    drawn,
    reported,
    settled,
)

WIDTH_W = 1600.0
METER_VAR = 4.0


def seen(*powers: float) -> KnownLevels:
    levels = KnownLevels()
    for power in powers:
        levels.add(power)
    return levels


def test_where_nothing_was_seen_any_level_is_as_likely_as_it_was():
    assert seen().excess(700.0, METER_VAR, WIDTH_W) == 0.0


@pytest.mark.parametrize("count", [1, 5, 40])
def test_the_levels_chances_add_up_to_one(count: int):
    """Checked with scipy's quadrature (Virtanen et al., Nature Methods 17 (2020) 261)."""
    levels = seen(*[600.0, 900.0, 1300.0] * count)

    def density(power_w: float) -> float:
        return exp(-levels.excess(power_w, METER_VAR, WIDTH_W)) / WIDTH_W

    whole, _ = quad(density, 200.0, 200.0 + WIDTH_W, points=(600, 900, 1300), limit=400)
    assert whole == pytest.approx(1.0, abs=0.003)


def test_the_more_often_a_level_was_seen_the_less_it_costs_and_the_more_any_other():
    once, often = seen(900.0), seen(*[900.0] * 10)
    at_it = [each.excess(900.0, METER_VAR, WIDTH_W) for each in (once, often)]
    beside = [each.excess(1000.0, METER_VAR, WIDTH_W) for each in (once, often)]
    assert at_it[1] < at_it[0] < 0.0 < beside[0] < beside[1]


def test_a_level_that_varies_with_the_boats_voltage_is_one_level():
    near = seen(900.0, 900.0 * (1.0 + 0.8 * NEAR_SHARE))
    assert len(near.snapshot()) == 1
    assert near.snapshot()[0][0] == pytest.approx(900.0 * (1.0 + 0.4 * NEAR_SHARE))


def test_what_is_kept_is_bounded_and_old_levels_can_be_outgrown():
    levels = seen(*(100.0 * 1.06**step for step in range(40)))
    assert len(levels.snapshot()) <= MOST_LEVELS
    for _ in range(500):
        levels.add(1000.0)
    assert sum(count for _, count in levels.snapshot()) <= MOST_SEEN + 1e-6
    assert max(levels.snapshot(), key=lambda row: row[1])[0] == pytest.approx(
        1000.0, rel=NEAR_SHARE
    )
    unlike = levels.excess(40.0, METER_VAR, WIDTH_W)
    assert exp(-unlike) == pytest.approx(FRESH_LEVELS / (FRESH_LEVELS + MOST_SEEN))


COOKED: list[Piece] = [(200, 1780), (260, 1060), (8, 0), (200, 1060), (240, 620)]


def knob(inference: Inference) -> list[float]:
    """Return the levels of the hob that were learnt, W."""
    (rows,) = [rows for _, rows in inference.snapshot()["beliefs"]["Hob"]["levels"]]
    return [mean for mean, _ in rows]


def test_a_hob_teaches_its_levels_by_being_used():
    days = drawn(*((600 + 9000 * day, COOKED) for day in range(4)), until_s=42_000)
    inference = Inference(boat(HOB, KETTLE))
    assert knob(inference) == []
    settled(inference, days)
    assert knob(inference) == pytest.approx([620, 1060, 1780], rel=0.02)
    again = Inference(boat(HOB, KETTLE))
    again.restore(json.loads(json.dumps(inference.snapshot())))
    assert knob(again) == knob(inference)
    inference.forget("Hob")
    assert knob(inference) == []


def test_a_level_of_the_hob_known_from_other_days_is_reported_surer():
    egg: list[Piece] = [(180, 1060)]
    boil: list[Piece] = [(150, 2000)]
    known = drawn(
        *((600 + 9000 * day, COOKED) for day in range(4)),
        (40_000, egg),
        (40_300, boil),
        until_s=47_000,
    )
    new = drawn((4000, egg), (4300, boil), until_s=11_000)
    aboard = boat(HOB, KETTLE)
    sure = [run for run in reported(aboard, known) if run.start_s > 39_000]
    unsure = reported(aboard, new)
    assert [run.appliance for run in sure] == ["Hob", "Kettle"]
    assert sure[0].confidence >= unsure[0].confidence


def test_what_has_no_knob_learns_no_levels():
    beliefs = Inference(boat(KETTLE)).snapshot()["beliefs"]
    assert beliefs["Kettle"]["levels"] == []
