"""Learn mode takes a signature from one run alone, or says why it cannot."""

import pytest

from custom_components.galley_loads.core.inference.learning.signature import (
    LearnProblem,
    LearnSession,
    Signature,
)
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from tests.core.inference.galley import drawn
from tests.said import refused


def taken(
    samples: list[LoadSample], name: str = "Kettle", rated: float = 2000.0
) -> Signature:
    session = LearnSession(name, rated)
    for sample in samples:
        session.observe(sample)
    return session.finish()


def test_a_kettle_alone_gives_its_power_and_energy():
    signature = taken(drawn((60, [(180.0, 1832.0)]), until_s=400))
    assert signature.full_power_w == pytest.approx(1832, rel=0.005)
    assert signature.duration_s == pytest.approx(180, abs=6)
    assert signature.energy_wh == pytest.approx(91.6, rel=0.03)
    assert Signature.from_plain(signature.as_plain()) == signature


def test_an_oven_gives_its_element_and_its_fan():
    baking = [(300.0, 1480.0), *[(60.0, 100.0), (60.0, 1480.0)] * 3]
    signature = taken(drawn((60, baking), until_s=900), "Oven", 1500)
    assert signature.full_power_w == pytest.approx(1480, rel=0.01)
    assert [round(power, -1) for power, _ in signature.levels] == [1480, 100]


def test_the_session_ends_by_itself():
    session = LearnSession("Kettle", 2000)
    for sample in drawn((60, [(120.0, 1832.0)]), until_s=600):
        session.observe(sample)
    assert session.is_over


@pytest.mark.parametrize(
    ("samples", "problem"),
    [
        (drawn(until_s=300), "not seen to switch on"),
        (drawn((4, [(100.0, 1800.0)]), until_s=300), "steady for 15 s"),
        (
            drawn((30, [(10.0, 80.0)]), (60, [(90.0, 1800.0)]), until_s=300),
            "Something else",
        ),
        (drawn((60, [(120.0, 4500.0)]), until_s=300), "more than twice"),
    ],
)
def test_what_is_in_the_way_is_said(samples, problem):
    with refused(LearnProblem, match=problem):
        taken(samples)


def test_a_hole_in_the_load_stops_the_session():
    session = LearnSession("Kettle", 2000)
    session.observe(LoadSample(0.0, 60.0))
    with refused(LearnProblem, match="not measured"):
        session.observe(LoadSample(5.0, None))
