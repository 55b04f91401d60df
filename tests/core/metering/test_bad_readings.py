"""What a source out of order tells is no power, and is complained of."""

import pytest

from custom_components.galley_loads.core.metering.reading import number_of

from .load_rig import AC_METER, bench, play

ODD_NUMBERS = ["1_000", "1_0", "\uff19\uff10", "\u0669\u0660", "9\u0660", "\u00b2"]


@pytest.mark.parametrize("text", ODD_NUMBERS)
def test_digits_of_other_scripts_and_underscores_are_no_watts(text: str) -> None:
    with pytest.raises(ValueError, match="no number"):
        number_of(text)
    assembler = bench(AC_METER)
    samples = play(assembler, [("ac", 90, 0), ("ac", text, 5)])
    assert samples[-1].load_w is None
    assert assembler.unreadable == 1


@pytest.mark.parametrize(
    ("role", "name"), [("ac_load_power", "ac"), ("dc_load_power", "dc")]
)
def test_a_load_far_below_zero_is_not_known_and_complained_of(
    role: str, name: str
) -> None:
    assembler = bench({role: f"sensor.{name}"})
    used_w = [90, 400, 90, 400, 90, -5000]
    samples = play(assembler, [(name, w, 5 * at) for at, w in enumerate(used_w)])
    assert samples[-1].load_w is None
    (complaint,) = assembler.missing
    assert complaint.entity_id == f"sensor.{name}"
    assert not complaint.asleep
    samples = play(assembler, [(name, 95, 30)])
    assert samples[-1].load_w is not None
    assert assembler.missing == ()


def test_a_meter_a_little_below_zero_reads_as_nothing() -> None:
    assembler = bench(AC_METER)
    assert play(assembler, [("ac", -40, 0)])[-1].load_w == 0
    assert assembler.missing == ()


def test_an_array_that_tells_power_far_below_zero_is_complained_of() -> None:
    assembler = bench(AC_METER | {"solar_power": "sensor.sun"})
    play(assembler, [("ac", 90, 0), ("sun", -700, 1)])
    assert [one.entity_id for one in assembler.missing] == ["sensor.sun"]
