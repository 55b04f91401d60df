"""The recent past is remembered as energies that can be cut anywhere."""

from itertools import pairwise

from hypothesis import given, strategies as st
import pytest

from custom_components.galley_loads.core.ledger.cells import Cells
from custom_components.galley_loads.core.metering.load_sample import LoadSample
from custom_components.galley_loads.core.stateful import from_row, row


def _ramp(voltage: bool = True) -> Cells:
    cells = Cells()
    for s in range(901):
        volts = 13.2 - 0.6 * s / 900
        cells.add(
            LoadSample(
                s,
                140 * volts,
                battery_w=-140 * volts,
                voltage_v=volts if voltage else None,
            )
        )
    return cells


def test_the_ramp_of_a_loaded_bank_gives_its_amp_hours_and_watt_hours() -> None:
    """140 A for 900 s, 13.2 V falling to 12.6 V: 35.000 Ah and 451.50 Wh (arithmetic)."""
    cells = list(_ramp().between(0, 900))
    assert sum(cell.net_as for cell in cells) / 3600 == pytest.approx(35.0, rel=1e-6)
    energy_wh = sum(cell.load_ws or 0 for cell in cells) / 3600
    # Each value holds until the next, half a second early on average.
    assert energy_wh == pytest.approx(451.50, rel=1e-4)


def test_without_a_voltage_no_charge_is_invented() -> None:
    assert sum(cell.net_s for cell in _ramp(voltage=False).between(0, 900)) == 0


@given(st.lists(st.floats(0.001, 0.999), max_size=6))
def test_cutting_loses_nothing(cuts: list[float]) -> None:
    whole = sum(cell.load_ws or 0 for cell in _ramp().between(0, 900))
    cells = _ramp()
    parts = [
        cell
        for cut in [*sorted(c * 900 for c in cuts), 900]
        for cell in cells.take_until(cut)
    ]
    assert sum(cell.load_ws or 0 for cell in parts) == pytest.approx(whole)
    assert [cell.start_s for cell in parts[1:]] == [cell.end_s for cell in parts[:-1]]


def test_many_quiet_readings_are_few_cells() -> None:
    cells = Cells()
    for s in range(3600):
        cells.add(LoadSample(s, 200 + s % 3))
    assert len(list(cells.between(0, 3600))) <= 3600 / 15 + 1


def test_a_negative_load_counts_as_none_drawn() -> None:
    cells = Cells()
    cells.add(LoadSample(0, -40))
    cells.add(LoadSample(60, 0))
    assert [cell.load_ws for cell in cells.between(0, 60)] == [0]


def test_the_recent_past_survives_a_restart() -> None:
    cells = _ramp()
    again = Cells()
    again.restore(cells.snapshot())
    assert again.last == cells.last
    assert list(again.between(0, 900)) == list(cells.between(0, 900))


@given(
    st.lists(
        st.tuples(
            st.sampled_from([0.0, 0.4, 3.0, 20.0]),
            st.sampled_from([None, -40.0, 0.0, 119.0, 122.0, 1800.0]),
            st.sampled_from([None, -1.0, 250.0]),
            st.sampled_from([frozenset(), frozenset({"Galley 1"})]),
        ),
        max_size=25,
    ),
    st.lists(st.integers(0, 25), max_size=4),
)
def test_it_matters_not_how_many_samples_come_at_a_time(
    steps: list[tuple[float, float | None, float | None, frozenset[str]]],
    cuts: list[int],
) -> None:
    samples: list[LoadSample] = []
    at_s = 0.0
    for gap_s, load_w, supply_w, circuits in steps:
        at_s += gap_s
        samples.append(
            LoadSample(
                at_s, load_w, supply_w, battery_w=supply_w, open_circuits=circuits
            )
        )
    one_by_one, many = Cells(), Cells()
    for sample in samples:
        one_by_one.add(sample)
    for start, end in pairwise([0, *sorted(cuts), len(samples)]):
        many.add_all(samples[start:end])
    assert many.snapshot() == one_by_one.snapshot()


def test_a_sample_comes_back_from_plain_data_as_it_was() -> None:
    sample = LoadSample(
        1.5, 300, 20, 0, -280, -22, 12.9, 71, (("Oven", 30.0),), frozenset({"Galley 1"})
    )
    assert from_row(LoadSample, row(sample)) == sample
